"""pytest plugin: the rules of a repository held to their promises, one test for each case and each promise.

Does nothing unless the ini option `asfound_rules` names files or folders of
rules. Then every `*.cases.yaml` among them is collected, with the rules beside
it, and so is a file of rules that has no cases at all. A test fails in the
words of `asfound rule test`; what is only worth a look is a warning, unless
`asfound_strict` is set.

    [tool.pytest.ini_options]
    asfound_rules = ["rules"]
"""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from asfound.judge.cases import Case
    from asfound.judge.rules import Rule
    from asfound.kit.prove import Proof, Trouble
    from asfound.kit.prove_pick import Picked

OPTION, STRICT, DAY = "asfound_rules", "asfound_strict", "asfound_as_of"
CASES = ".cases.yaml"


class RuleWarning(pytest.PytestWarning):
    """Something about a rule that is worth a look and breaks no promise."""


class PromiseBroken(Exception):
    """Holds the troubles that a test failed for."""

    def __init__(self, troubles: list[Trouble]) -> None:
        self.troubles = troubles
        super().__init__("; ".join(one.cause for one in troubles))


def pytest_addoption(parser: pytest.Parser) -> None:
    """The ini options; without the first of them the plugin does nothing."""
    parser.addini(OPTION, "files and folders of asfound rules to hold to their promises", type="paths", default=[])
    parser.addini(STRICT, "let what is only worth a look about asfound rules fail too", type="bool", default=False)
    parser.addini(DAY, "date (year-month-day) whose tables asfound cases are judged by; today when empty", default="")


def pytest_configure(config: pytest.Config) -> None:
    """Let a run that names nothing on the command line take in the rules, wherever `testpaths` leads it."""
    named = _named(config)
    _usable(config, named)
    if not named or config.args_source == pytest.Config.ArgsSource.ARGS:
        return
    given = [Path(argument.split("::")[0]).resolve() for argument in config.args]
    for path in named:
        if not any(path.resolve().is_relative_to(one) for one in given):
            config.args.append(str(path))


def _usable(config: pytest.Config, named: list[Path]) -> None:
    """Raise `pytest.UsageError` for what would let a run test nothing, or something else than was meant."""
    for path in named:
        if not path.exists():
            raise pytest.UsageError(
                f"{OPTION}: there is no file or folder {path}; name those that hold the rules, each in quotes when its "
                f'name has blanks: {OPTION} = "my course"'
            )
    day = config.getini(DAY)
    if named and day:
        from datetime import date

        try:
            date.fromisoformat(day)
        except ValueError:
            raise pytest.UsageError(f"{DAY}: {day!r} is no date; write it like 2026-05-04") from None
    if named and not any(_holds_rules(path) for path in named):
        raise pytest.UsageError(
            f"{OPTION}: there are no rules and no cases in {', '.join(map(str, named))}; "
            "name the folder that holds them"
        )


def _holds_rules(path: Path) -> bool:
    if path.is_dir():
        return any(_holds_rules(one) for one in path.rglob("*") if one.is_file() and one.suffix in (".py", ".yaml"))
    return path.name.endswith(CASES) or _may_hold_rules(path)


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    """A file of cases, or a file of rules without one, among what `asfound_rules` names."""
    named = _named(parent.config)
    if not named:
        return None
    path = file_path.resolve()
    if not any(path == one or one in path.parents for one in map(Path.resolve, named)):
        return None
    if path.name.endswith(CASES) or (_may_hold_rules(path) and not _cases_beside(path).exists()):
        made: pytest.Collector = RuleFile.from_parent(parent, path=file_path)
        return made
    return None


def _named(config: pytest.Config) -> list[Path]:
    held: list[Path] = config.getini(OPTION)
    return held


def _may_hold_rules(path: Path) -> bool:
    if path.name.endswith(".rules.yaml"):
        return True
    if path.suffix != ".py" or path.name.startswith(("test_", "conftest", "__init__")):
        return False
    return "@rule(" in path.read_text(encoding="utf-8", errors="replace")


def _cases_beside(path: Path) -> Path:
    return path.with_suffix(CASES)


class RuleFile(pytest.File):
    """The rules beside one file of cases."""

    def collect(self) -> Iterable[pytest.Item | pytest.Collector]:
        from datetime import date

        from asfound.judge.rules import BadRule
        from asfound.kit.prove_pick import pick

        try:
            picked = pick([str(self.path)], self.config.getini(DAY) or date.today().isoformat())
        except BadRule as error:
            raise self.CollectError(f"{error}.") from None
        if picked.troubles:
            raise self.CollectError(_words(picked.troubles))
        for rule in picked.rules:
            made: RuleSuite = RuleSuite.from_parent(self, name=rule.name, rule=rule, picked=picked)
            yield made
        beside: FilePromise = FilePromise.from_parent(self, name="the file as a whole", picked=picked)
        yield beside


class RuleSuite(pytest.Collector):
    """One rule: a test for each of its cases and each of its promises. It is proven once, when first asked."""

    def __init__(self, *, rule: Rule, picked: Picked, **more: Any) -> None:
        super().__init__(**more)
        self.rule = rule
        self.picked = picked
        self._proof: Proof | None = None

    @property
    def proof(self) -> Proof:
        """Everything the cases of the rule show."""
        if self._proof is None:
            from asfound.kit.prove import prove

            self._proof = prove(self.rule, self.picked.tables)
        return self._proof

    def collect(self) -> Iterator[pytest.Item]:
        from asfound.judge.cases import read_cases
        from asfound.judge.rules import BadRule
        from asfound.kit.prove import FOR_EACH_CASE, PROMISES

        try:
            cases = read_cases(self.rule)
        except BadRule:
            cases = []  # the promise of cases in all three lists says why
        for number, case in enumerate(cases):
            made: CaseTest = CaseTest.from_parent(self, name=f"{case.list}: {case.why}", case=case, number=number)
            yield made
        for promise in PROMISES:
            if promise not in FOR_EACH_CASE:
                held: PromiseTest = PromiseTest.from_parent(self, name=promise)
                yield held


class _Test(pytest.Item):
    """A test that fails with the troubles it is about."""

    def troubles(self) -> list[Trouble]:
        """What is wrong with what this test is about."""
        raise NotImplementedError

    def runtest(self) -> None:
        troubles = self.troubles()
        strict = self.config.getini(STRICT)
        broken = [one for one in troubles if one.grave or strict]
        for one in troubles:
            if one not in broken:
                said = RuleWarning(f"{one.rule}: {one.cause}; {one.step}")
                warnings.warn_explicit(said, None, str(one.file), one.line)
        if broken:
            raise PromiseBroken(broken)

    def repr_failure(self, excinfo: pytest.ExceptionInfo[BaseException], style: Any = None) -> Any:
        """The sentences of `asfound rule test` for what is broken; a trace for anything else."""
        if isinstance(excinfo.value, PromiseBroken):
            return _words(excinfo.value.troubles)
        return super().repr_failure(excinfo, style)


class CaseTest(_Test):
    """One case of a rule, with all that is promised of each case."""

    def __init__(self, *, case: Case, number: int, **more: Any) -> None:
        super().__init__(**more)
        self.case = case
        self.number = number

    def troubles(self) -> list[Trouble]:
        assert isinstance(self.parent, RuleSuite)
        return self.parent.proof.cases[self.number].troubles

    def reportinfo(self) -> tuple[Path, int, str]:
        return self.path, max(self.case.line - 1, 0), f"{self.case.rule}, {self.name}"


class PromiseTest(_Test):
    """One promise of a rule as a whole."""

    def troubles(self) -> list[Trouble]:
        assert isinstance(self.parent, RuleSuite)
        return [one for one in self.parent.proof.troubles if one.promise == self.name]

    def reportinfo(self) -> tuple[Path, int, str]:
        assert isinstance(self.parent, RuleSuite)
        return self.path, 0, f"{self.parent.rule.name}, {self.name}"


class FilePromise(_Test):
    """What holds of a file of rules as a whole: no cases without a rule, and every function reached."""

    def __init__(self, *, picked: Picked, **more: Any) -> None:
        super().__init__(**more)
        self.picked = picked

    def troubles(self) -> list[Trouble]:
        from asfound.kit.prove import beside_rules

        here = [one for one in _suites(self.session) if one.path.parent == self.path.parent]
        own = [one for one in here if one.parent is self.parent]
        if len(own) < len(self.picked.rules):
            return []  # only some of its rules were asked for
        first = min(one.path for one in here) == self.path if here else False
        files = {one.rule.file for one in here}
        mine = {one.rule.file for one in own} | {self.path}
        return [
            one
            for one in beside_rules([suite.proof for suite in here])
            if one.file in mine or (first and one.file not in files and not one.file.name.endswith(CASES))
        ]

    def reportinfo(self) -> tuple[Path, int, str]:
        return self.path, 0, f"{self.path.name}, as a whole"


def _suites(session: pytest.Session) -> list[RuleSuite]:
    """The rules of a session of which some test is to be run, each once."""
    parents = (one.parent for one in session.items if isinstance(one, _Test))
    return list({id(one): one for one in parents if isinstance(one, RuleSuite)}.values())


def _words(troubles: list[Trouble]) -> str:
    from asfound.render.proof import trouble_lines

    return "\n\n".join("\n".join(trouble_lines(one)) for one in troubles)
