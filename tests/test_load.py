"""The loader takes plain values with their places and refuses everything else in one sentence a line."""

from __future__ import annotations

import json
import re
from datetime import date
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from asfound.load import MAX_BYTES, MAX_DEPTH, Document, Refused, Seq, load_bytes, load_file
from asfound.load.values import MAX_PROBLEMS, Place
from strategies import RICH, as_yaml, plain_values

SENTENCE = re.compile(r"house\.(yaml|json)( line [1-9][0-9]*)?: [^\n]+; [^\n]+\.\Z")
"""File, line when there is one, cause, next step."""
FOREIGN = re.compile(r"Traceback|Error|Exception|mapping values|scanning|token|scalar|node|NoneType|expected")
"""Words of the parser or of the language it is written in."""


def loaded(text: str, name: str = "house.yaml") -> Document:
    return load_bytes(text.encode(), name)


def refusal(data: str | bytes, name: str = "house.yaml") -> list[str]:
    """The sentences with which a text is refused, each checked for its form."""
    with pytest.raises(Refused) as caught:
        load_bytes(data if isinstance(data, bytes) else data.encode("utf-8", "surrogatepass"), name)
    sentences = caught.value.sentences()
    for sentence in sentences:
        assert SENTENCE.match(sentence), sentence
        assert not FOREIGN.search(sentence), sentence
        assert len(sentence) < 400
    return sentences


def one(data: str | bytes, name: str = "house.yaml") -> str:
    """The only sentence with which a text is refused."""
    sentences = refusal(data, name)
    assert len(sentences) == 1, sentences
    return sentences[0]


# -- values


@pytest.mark.parametrize(
    ("text", "value"),
    [
        *(
            pytest.param(word, word, id=f"{word} is a word")
            for word in ("off", "Off", "no", "NO", "on", "yes", "y", "n")
        ),
        pytest.param("true", True, id="true"),
        pytest.param("False", False, id="False"),
        pytest.param("10:04", "10:04", id="time is not 604"),
        pytest.param("10:04:30", "10:04:30", id="time with seconds"),
        pytest.param("2026-05-04", "2026-05-04", id="date stays text"),
        pytest.param("2026-05-04 10:04", "2026-05-04 10:04", id="date and time stay text"),
        pytest.param("1/0", "1/0", id="one aught"),
        pytest.param("08", "08", id="leading zero"),
        pytest.param("014", "014", id="leading zero is not octal"),
        pytest.param("0014", "0014", id="two leading zeros"),
        pytest.param("0o17", "0o17", id="octal"),
        pytest.param("0x1F", "0x1F", id="hexadecimal"),
        pytest.param("0b11", "0b11", id="binary"),
        pytest.param("1_000", "1_000", id="grouped digits"),
        pytest.param("00", "00", id="two aughts"),
        pytest.param("0", 0, id="zero"),
        pytest.param("-3", -3, id="negative"),
        pytest.param("14", 14, id="whole number"),
        pytest.param("14.50", 14.5, id="fraction"),
        pytest.param(".5", 0.5, id="fraction without a zero"),
        pytest.param("1e3", 1000.0, id="exponent"),
        pytest.param("'14'", "14", id="quoted number"),
        pytest.param('"true"', "true", id="quoted true"),
        pytest.param('"tab\\there"', "tab\there", id="escaped tab"),
        pytest.param("|\n  two\n  lines", "two\nlines", id="block of lines"),
        pytest.param(">-\n  folded\n  text", "folded text", id="folded block"),
        pytest.param("|\n  14", "14", id="a block is text"),
        pytest.param("~", None, id="tilde is nothing"),
        pytest.param("", None, id="nothing"),
        pytest.param("=", "=", id="equals sign"),
        pytest.param("12-2 W/G", "12-2 W/G", id="trade words"),
        pytest.param("nan", "nan", id="nan without a dot is a word"),
    ],
)
def test_scalar(text: str, value: object) -> None:
    """Only what YAML 1.2 calls a number, true, false or null is anything but text."""
    held = loaded(f"a: {text}").root["a"]
    assert held == value
    assert type(held) is type(value)


@pytest.mark.parametrize("key", ["5/7", "3", "1e3", "true", "null", "off", "2026-05-04", "08", "1.50"])
def test_names_stay_as_written(key: str) -> None:
    """A name before the colon is text whatever it looks like, so breaker 3 and breaker 5/7 are named alike."""
    assert list(loaded(f"{key}: 1").root) == [key]


def test_written_form_and_places_are_kept() -> None:
    """Digits as written and line and column, from 1, of names, values and list entries."""
    root = loaded("# note\namps: 20.0\n\nlist: [1.50,\n  x]\n").root
    assert root.written["amps"] == "20.0"
    assert root.key_places["amps"] == Place(2, 1)
    assert root.places["amps"] == Place(2, 7)
    listed = root["list"]
    assert isinstance(listed, Seq)
    assert listed.written == {0: "1.50"}
    assert listed.places == [Place(4, 8), Place(5, 3)]
    same = loaded('{\n "amps": 20.0,\n "list": [1.50,\n  "x"]}', "house.json").root
    assert same.written == {"amps": "20.0"}
    assert same.key_places["amps"] == Place(2, 2)
    assert same.places["amps"] == Place(2, 10)
    assert same["list"].places == [Place(3, 11), Place(4, 3)]


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"], ids=["unix", "windows", "old mac"])
@pytest.mark.parametrize("name", ["house.yaml", "house.json"])
def test_every_line_ending_counts_once(ending: str, name: str) -> None:
    """The line told is the line an editor shows."""
    text = ending.join(["{", '"a": 1,', '"b": 2,', '"b": 3}'])
    assert one(text, name).startswith(f"{name} line 4: 'b' is given twice (first on line 3)")


def test_byte_order_mark_is_passed_over() -> None:
    """The mark some editors put at the front of UTF-8 is no part of the first name."""
    assert load_bytes(b"\xef\xbb\xbfa: 1", "house.yaml").root == {"a": 1}
    assert load_bytes(b'\xef\xbb\xbf{"a": 1}', "house.json").root == {"a": 1}


def test_rich_record_agrees_with_plain_yaml() -> None:
    """Against the parser's own loader, only dates and the names 3 and on differ, by being text."""
    assert loaded(RICH).root == as_text(yaml.safe_load(RICH))


def as_text(value: object) -> object:
    """A plain value with names and dates as text."""
    if isinstance(value, dict):
        return {"on" if key is True else str(key): as_text(held) for key, held in value.items()}
    if isinstance(value, list):
        return [as_text(held) for held in value]
    return value.isoformat() if isinstance(value, date) else value


def test_fingerprint_is_of_the_bytes() -> None:
    """SHA-256 of the file as it is, by FIPS 180-4; value for "a: 1" from coreutils sha256sum."""
    found = load_bytes(b"a: 1", "house.yaml").sha256
    assert found == "16c3c6d78678d53d39ab2c7a5a7bc4596567b46a1a57000a2d707334f779b824"


# -- refused: YAML


@pytest.mark.parametrize(
    ("text", "line", "cause"),
    [
        pytest.param("a: 1\nb: 2\na: 3", 3, "'a' is given twice (first on line 1)", id="repeated name"),
        pytest.param("a: {b: 1, b: 2}", 1, "'b' is given twice", id="repeated name in brackets"),
        pytest.param("3: 1\n'3': 2", 2, "'3' is given twice", id="repeated name, once quoted"),
        pytest.param("a: 1\nb: &x 2", 2, "an anchor (&x) stands here", id="anchor"),
        pytest.param("a: *x", 1, "an alias (*x) stands here", id="alias"),
        pytest.param("*x : 1", 1, "an alias (*x) stands here", id="alias for a name"),
        pytest.param("a: !!str 1", 1, "a tag (tag:yaml.org,2002:str) stands here", id="tag"),
        pytest.param("a: ! 1", 1, "a tag (!) stands here", id="tag without a name"),
        pytest.param(
            "a: !!python/object:os.system x", 1, "a tag (tag:yaml.org,2002:python/object", id="tag of a program"
        ),
        pytest.param("a: !!set {x}", 1, "a tag (tag:yaml.org,2002:set)", id="tag on brackets"),
        pytest.param("<<: {a: 1}", 1, "a merge key (<<) stands here", id="merge key"),
        pytest.param("a: 1\n<<: *x", 2, "a merge key (<<) stands here", id="merge key with an alias"),
        pytest.param("a: 1\n---\nb: 2", 2, "a second document starts here", id="second document"),
        pytest.param("a: 1\n...\nb: 2", 3, "the record goes on after its end", id="text after the end mark"),
        pytest.param("a: .inf", 1, "'.inf' is not a finite number", id="infinity"),
        pytest.param("a: -.INF", 1, "'-.INF' is not a finite number", id="minus infinity"),
        pytest.param("a: .nan", 1, "'.nan' is not a finite number", id="not a number"),
        pytest.param("a: 1e999", 1, "'1e999' is not a finite number", id="exponent too large"),
        pytest.param(f"a: {'9' * 19}", 1, "'9999999999999999999' is not a finite number of ordinary", id="long number"),
        pytest.param(f"a: {'9' * 100_000}", 1, "is not a finite number of ordinary length", id="very long number"),
        pytest.param(f"a: 0.{'3' * 100_000}", 1, "is not a finite number of ordinary length", id="very long fraction"),
        pytest.param("a: 'x\nb: 1\n", 1, "a quote opened here is not closed", id="single quote not closed"),
        pytest.param('a: 1\nb: "x\nc: 1\n', 2, "a quote opened here is not closed", id="double quote not closed"),
        pytest.param("a:\n\tb: 1", 2, "a tab is used to indent", id="tab"),
        pytest.param("a:\n  b: 1\n\tc: 1", 3, "a tab is used to indent", id="tab after spaces"),
        pytest.param("? [a, b]\n: 1", 1, "brackets stand where a name", id="list for a name"),
        pytest.param("? {a: b}\n: 1", 1, "brackets stand where a name", id="brackets for a name"),
        pytest.param("{[a]: 1}", 1, "brackets stand where a name", id="list for a name in brackets"),
        pytest.param("- a\n- b", 1, "a record is made of named parts", id="list at the top"),
        pytest.param("just text", 1, "a record is made of named parts", id="text at the top"),
        pytest.param("42", 1, "a record is made of named parts", id="number at the top"),
        pytest.param("a: b: c", 1, "a colon stands where none can be", id="two colons"),
        pytest.param("a: - 1", 1, "a dash for a list stands where none can be", id="dash on the line of the name"),
        pytest.param("a: @b", 1, "text begins with a character that YAML keeps", id="at sign"),
        pytest.param("a: `b`", 1, "text begins with a character that YAML keeps", id="backtick"),
        pytest.param("a: **b**", 1, "text begins with & or *", id="asterisks"),
        pytest.param("a: 1\nb\nc: 3", 2, "a name stands here with no colon", id="no colon"),
        pytest.param("a:\n  b: 1\n c: 2", 3, "the line fits neither the indentation", id="uneven indentation"),
        pytest.param("a: 'x' y", 1, "the line fits neither the indentation", id="text after a quote"),
        pytest.param("a:\n  - 1\n  b: 2", 3, "a list has a line without a dash", id="no dash"),
        pytest.param("a: [1, 2\nb: 3", 2, "a list in square brackets is not closed", id="bracket not closed"),
        pytest.param("a: {x: 1\nb: 3", 2, "a list in curly brackets is not closed", id="curly bracket not closed"),
        pytest.param("a: {x: 1,, y: 2}", 1, "a comma or closing bracket stands here", id="two commas"),
        pytest.param("a: ]", 1, "a comma or closing bracket stands here", id="lone bracket"),
        pytest.param("a: ?", 1, "a question mark stands alone here", id="lone question mark"),
        pytest.param('a: "C:\\panels"', 1, "a backslash stands inside double quotes", id="backslash"),
        pytest.param('a: "\\ud800"', 1, "a backslash stands inside double quotes", id="half a character pair"),
        pytest.param("a: |x\n b", 1, "text stands after | or >", id="text after the bar"),
        pytest.param("%FOO x\n---\na: 1", 1, "a line begins with %", id="directive"),
        pytest.param("%YAML 9.9\n---\na: 1", 1, "a line begins with %", id="version to come"),
        pytest.param("a: !x!y z", 1, "text begins with !", id="undefined tag handle"),
        pytest.param("a: b\x00c", 1, "a character that cannot be seen (U+0000)", id="NUL"),
        pytest.param("a: 1\nb: \x1b[31m", 2, "a character that cannot be seen (U+001B)", id="terminal escape"),
        pytest.param('a: "\\e[31m"', 1, "a character that cannot be seen (U+001B)", id="terminal escape, escaped"),
        pytest.param('a: "\\0"', 1, "a character that cannot be seen (U+0000)", id="NUL, escaped"),
        pytest.param('a: "x\\ry"', 1, "a character that cannot be seen (U+000D)", id="carriage return, escaped"),
        pytest.param('"\\a": 1', 1, "a character that cannot be seen (U+0007)", id="bell in a name"),
        pytest.param("a: x\u202ey", 1, "a character that cannot be seen (U+202E)", id="direction turned"),
        pytest.param("a: x\u2028y", 1, "a character that cannot be seen (U+2028)", id="line separator"),
        pytest.param("a: \ufeffx", 1, "a character that cannot be seen (U+FEFF)", id="byte order mark inside"),
        pytest.param("a: \ufffe", 1, "a character that cannot be seen (U+FFFE)", id="no character"),
    ],
)
def test_yaml_refused(text: str, line: int, cause: str) -> None:
    """One sentence, with the line where the writer has to look."""
    sentence = one(text)
    assert sentence.startswith(f"house.yaml line {line}: ")
    assert cause in sentence


@pytest.mark.parametrize("text", ["", " \n\t\n", "\ufeff"], ids=["nothing", "blanks", "only a byte order mark"])
@pytest.mark.parametrize("name", ["house.yaml", "house.json"])
def test_empty(text: str, name: str) -> None:
    """An empty file is said to be empty, with the command that starts a record."""
    assert one(text, name) == f"{name}: the file is empty; start one with `asfound new`."


@pytest.mark.parametrize("text", ["# only a comment", "---\n", "--- ~", "---\n...\n"])
def test_nothing_in_it(text: str) -> None:
    """A file of comments holds no values."""
    assert one(text) == "house.yaml: the file holds no values; start one with `asfound new`."


@pytest.mark.parametrize(
    ("data", "line"),
    [
        pytest.param(b"a: 1\nb: \xff", 2, id="a byte that UTF-8 has not"),
        pytest.param("a: 1\nb: wei\xdf".encode("latin-1"), 2, id="Latin-1"),
        pytest.param("a: 1".encode("utf-16"), 1, id="UTF-16"),
        pytest.param(b"a: \xed\xa0\x80", 1, id="half of a character pair"),
        pytest.param(b"a: \xc0\xaf", 1, id="overlong form"),
        pytest.param(b"a: 1\r\nb: 2\r\nc: \xe2\x82", 3, id="cut in a character"),
    ],
)
@pytest.mark.parametrize("name", ["house.yaml", "house.json"])
def test_not_utf8(data: bytes, line: int, name: str) -> None:
    """The line of the first byte that is wrong is told."""
    assert one(data, name) == (
        f"{name} line {line}: the text is not UTF-8 at this line; save the file again with UTF-8 encoding."
    )


def test_all_slips_are_told_at_once_in_file_order() -> None:
    """Slips of several lines come together, by line."""
    sentences = refusal("a: &x 1\nb: !!int 2\na: 3\nc: *x\nd: .inf\n")
    assert [int(re.search(r"line (\d+)", sentence)[1]) for sentence in sentences] == [1, 2, 3, 4, 5]  # type: ignore[index]


def test_slips_end_somewhere() -> None:
    """A file full of slips is not read to its end."""
    assert len(refusal("\n".join(f"a{i}: &x{i} 1" for i in range(1000)))) == MAX_PROBLEMS
    text = "{" + ", ".join(f'"a{i}": NaN' for i in range(1000)) + "}"
    assert len(refusal(text, "house.json")) == MAX_PROBLEMS


@pytest.mark.parametrize("name", ["house.yaml", "house.json"])
def test_depth(name: str) -> None:
    """`MAX_DEPTH` levels are taken and one more is not, in either format."""
    deep = '{"a": ' * (MAX_DEPTH - 1) + "[]" + "}" * (MAX_DEPTH - 1)
    assert loaded(deep, name).root.keys() == {"a"}
    assert "nested deeper than 40 levels; flatten this part" in one('{"a": ' + deep + "}", name)


@pytest.mark.parametrize(
    "mark", ["[", "{", "- ", "? ", '{"a":', "[[{", "a: [", "!", "&", "'", '"', "\\", ",", "|", "`"]
)
@pytest.mark.parametrize("name", ["house.yaml", "house.json"])
def test_one_mark_very_often(mark: str, name: str) -> None:
    """A file of one mark over and over is refused soon and in one sentence."""
    one(mark * 100_000, name)


def test_too_large() -> None:
    """The size is told before the text is looked at."""
    assert (
        one(b"#" * (MAX_BYTES + 1))
        == "house.yaml: the file is larger than 32 MB; split the record by building or by panel."
    )


@pytest.mark.parametrize("name", ["house.yaml", "house.json"])
def test_too_many_values(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """As many values as allowed are taken and one more is not; the list itself is one."""
    monkeypatch.setattr("asfound.load.yamlfile.MAX_VALUES", 1000)
    monkeypatch.setattr("asfound.load.jsonfile.MAX_VALUES", 1000 + (name == "house.json"))  # JSON counts the record too
    assert len(loaded('{"a": [' + "1," * 998 + "1]}", name).root["a"]) == 999
    assert "values; split the record" in one('{"a": [' + "1," * 999 + "1]}", name)


# -- refused: JSON


@pytest.mark.parametrize(
    ("text", "line", "cause"),
    [
        pytest.param('{"a": 1,\n"a": 2}', 2, "'a' is given twice (first on line 1)", id="repeated name"),
        pytest.param('{"a": 1, "\\u0061": 2}', 1, "'a' is given twice", id="repeated name, once escaped"),
        pytest.param('{"a": NaN}', 1, "'NaN' is not a finite number", id="NaN"),
        pytest.param('{"a":\nInfinity}', 2, "'Infinity' is not a finite number", id="Infinity"),
        pytest.param('{"a": -Infinity}', 1, "'-Infinity' is not a finite number", id="minus Infinity"),
        pytest.param('{"a": 1e999}', 1, "'1e999' is not a finite number", id="exponent too large"),
        pytest.param('{"a": -1e999}', 1, "'-1e999' is not a finite number", id="negative exponent too large"),
        pytest.param('{"a": %s}' % ("9" * 100_000), 1, "not a finite number of ordinary length", id="very long number"),
        pytest.param('{"a": 08}', 1, "'08' is not written as JSON", id="leading zero"),
        pytest.param('{"a": +1}', 1, "'+1' is not written as JSON", id="plus sign"),
        pytest.param('{"a": .5}', 1, "'.5' is not written as JSON", id="no zero before the point"),
        pytest.param('{"a": 5.}', 1, "'5.' is not written as JSON", id="nothing after the point"),
        pytest.param('{"a": off}', 1, "'off' is not written as JSON", id="bare word"),
        pytest.param('{"a": True}', 1, "'True' is not written as JSON", id="capital True"),
        pytest.param('{"a": "\\ud800"}', 1, "cannot be seen (U+D800)", id="half of a character pair"),
        pytest.param('{"\\udc00": 1}', 1, "cannot be seen (U+DC00)", id="half of a character pair in a name"),
        pytest.param('{"a": "\\u0000"}', 1, "cannot be seen (U+0000)", id="NUL, escaped"),
        pytest.param('{"a": "\\u001b[31m"}', 1, "cannot be seen (U+001B)", id="terminal escape, escaped"),
        pytest.param('{"a": "\x00"}', 1, "cannot be seen (U+0000)", id="NUL"),
        pytest.param('{"a": "x\ny"}', 1, "quoted text breaks off at the end of its line", id="line end in quotes"),
        pytest.param('{"a": "x}', 1, "a quote opened here is not closed", id="quote not closed"),
        pytest.param('{"a": "\\q"}', 1, "a backslash inside quotes", id="unknown escape"),
        pytest.param('{"a": "\\u12"}', 1, "a backslash inside quotes", id="short escape"),
        pytest.param('{"a" 1}', 1, "a colon is missing after 'a'", id="no colon"),
        pytest.param("{a: 1}", 1, "a quoted name is missing here", id="bare name"),
        pytest.param('{"a": 1,}', 1, "a quoted name is missing here", id="comma at the end"),
        pytest.param('{"a": [1,]}', 1, "a value is missing here", id="comma at the end of a list"),
        pytest.param('{"a": 1 "b": 2}', 1, "a comma or } is missing here", id="no comma"),
        pytest.param('{"a": [1 2]}', 1, "a comma or ] is missing here", id="no comma in a list"),
        pytest.param('{"a": 1', 1, "a comma or } is missing here", id="bracket not closed"),
        pytest.param('{"a":', 1, "a value is missing here", id="breaks off"),
        pytest.param('{"a": 1} x', 1, "there is text after the end of the record", id="text after the end"),
        pytest.param('{"a": 1}\n{"b": 2}', 2, "there is text after the end of the record", id="second document"),
        pytest.param("[1, 2]", 1, "a record is made of named parts", id="list at the top"),
        pytest.param('"text"', 1, "a record is made of named parts", id="text at the top"),
        pytest.param("// note\n{}", 1, "a value is missing here", id="comment"),
        pytest.param("{1: 2}", 1, "a quoted name is missing here", id="number for a name"),
    ],
)
def test_json_refused(text: str, line: int, cause: str) -> None:
    """One sentence, with the line where the writer has to look."""
    sentence = one(text, "house.json")
    assert sentence.startswith(f"house.json line {line}: ")
    assert cause in sentence


# -- files


def test_file_decides_format_by_its_name(tmp_path: Path) -> None:
    """JSON by the ending .json in any case, YAML otherwise."""
    for name, text in (("a.JSON", '{"a": 08}'), ("a.json", "a: 1")):
        path = tmp_path / name
        path.write_text(text)
        with pytest.raises(Refused):
            load_file(path)
    path = tmp_path / "a.txt"
    path.write_text("a: 08")
    assert load_file(path).root == {"a": "08"}


@pytest.mark.parametrize(
    ("name", "cause"),
    [
        pytest.param("missing.yaml", "there is no file of this name; check the path.", id="no file"),
        pytest.param(".", "this is a folder, not a record; name one record file in it.", id="folder"),
        pytest.param("nul\0.yaml", "no file can have this name", id="no name for a file"),
        pytest.param("x" * 5000, "the file cannot be read", id="name too long"),
    ],
)
def test_file_that_cannot_be_read(tmp_path: Path, name: str, cause: str) -> None:
    """What the system says is put in words."""
    with pytest.raises(Refused) as caught:
        load_file(tmp_path / name)
    assert cause in str(caught.value)
    assert len(caught.value.problems) == 1


# -- properties


@given(st.binary(max_size=200), st.sampled_from(["x.yaml", "x.json"]))
def test_any_bytes_give_a_document_or_a_refusal(data: bytes, name: str) -> None:
    """Nothing but `Refused` ever leaves the loader."""
    _document_or_refusal(data, name)


MARKS = ["a: ", "- ", "? ", "\n", "  ", "&x ", "*x ", "!t ", "<<", "1", "'", '"', "{", "}", "[", "]", "|\n"]


@given(
    st.text(max_size=120)
    | st.text(st.sampled_from("ab1.-:,'\"[]{}&*!|>#%@`?<\\ \n\t~="), max_size=60)
    | st.lists(st.sampled_from(MARKS), max_size=25).map("".join),
    st.sampled_from(["x.yaml", "x.json"]),
)
def test_any_text_gives_a_document_or_a_refusal(text: str, name: str) -> None:
    """Likewise for text, drawn also from the marks of YAML alone."""
    _document_or_refusal(text.encode("utf-8", "surrogatepass"), name)


def _document_or_refusal(data: bytes, name: str) -> None:
    try:
        document = load_bytes(data, name)
    except Refused as refused:
        sentences = refused.sentences()
    else:
        sentences = ["a document"]
        assert isinstance(document.root, dict)
        json.dumps(document.root, allow_nan=False).encode()
    assert sentences
    assert all("\n" not in sentence for sentence in sentences)


@given(plain_values(), st.booleans())
def test_yaml_and_json_of_the_same_values_load_equal(value: dict[str, object], flow: bool) -> None:
    """And both equal to what was written."""
    by_yaml = load_bytes(as_yaml(value, flow=flow).encode(), "x.yaml").root
    by_json = load_bytes(json.dumps(value).encode(), "x.json").root
    assert by_yaml == by_json == value
    assert json.dumps(by_yaml) == json.dumps(value)  # true is not 1, and 1 is not 1.0


@given(plain_values())
def test_json_text_is_yaml_text(value: dict[str, object]) -> None:
    """JSON read as YAML gives the same values, as YAML 1.2 has it."""
    text = json.dumps(value, ensure_ascii=False, indent=1)
    assert load_bytes(text.encode(), "x.yaml").root == load_bytes(text.encode(), "x.json").root


@given(st.text(st.sampled_from("0123456789.eE+-_:/xon"), min_size=1, max_size=8))
def test_plain_scalars_agree_with_json_and_stay_text_otherwise(text: str) -> None:
    """What JSON takes for a number is that number; what it does not is text or, with a bare point or sign, a number."""
    try:
        held = loaded(f"a: {text}").root["a"]
    except Refused:
        return  # punctuation, or a number that is not finite
    try:
        number = json.loads(text)
    except json.JSONDecodeError:
        assert held == text or re.fullmatch(r"[-+]?(\.\d+|\d+\.?\d*)([eE][-+]?\d+)?", text) or not text.strip("-")
    else:
        assert (held, type(held)) == (number, type(number))
