"""A rule tried on a record, as text for a terminal: one item step by step, many items as a list."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from asfound.judge.tables import Row
from asfound.kit.trial import AskStep, EndStep, ReadStep, SayStep, Step, Trial, TrialWorld
from asfound.render.lines import WIDTH, cut, pad, rule_line, wrap
from asfound.wording import joined, plural, quoted_list

MOST_STEPS = 60
MOST_WORLDS = 12
MOST_ITEMS = 40
MOST_TAGS = 12


def trial_text(trial: Trial, head: str, *, everything: bool = False) -> str:
    """One item: the world as recorded in full, the others by what differs, then what follows."""
    rule = trial.rule
    lines = [
        *wrap(f"{rule.name} on {trial.item.identity}", "", "  "),
        *wrap(f"{rule.title}."),
        *wrap(head),
        "",
        rule_line("AS RECORDED"),
        "",
    ]
    if trial.worlds:
        lines += _steps(trial.worlds[0], everything)
    others = trial.worlds[1:]
    if others:
        more = " at least" if trial.bound_met else ""
        lines += ["", rule_line(f"{plural(len(others), 'OTHER WORLD')}{more}"), ""]
        for world in others if everything else others[:MOST_WORLDS]:
            lines += _world(world, trial.worlds[0], everything)
        if len(others) > MOST_WORLDS and not everything:
            lines += wrap(f"And {len(others) - MOST_WORLDS} more; --verbose shows them.", "  ")
    lines += ["", rule_line("RESULT"), "", *wrap(f"{trial.words[:1].upper()}{trial.words[1:]}.")]
    for finding in trial.findings:
        place = "" if finding.place == trial.item.words else f"{finding.place}: "
        lines += wrap(f"{place}{finding.certainty}, {finding.grade}: {finding.statement}", "  ", "    ")
        for one in finding.settle:
            lines += wrap(
                f"Would settle it: {one.fact.replace('_', ' ')} of {one.item} ({' or '.join(one.can_be)})"
                f"{f': {one.observe}' if one.observe else ''}.", "    ", "      ",
            )  # fmt: skip
    for lacking in trial.cannot_tell:
        lines += wrap(f"Missing: {lacking.missing.replace('_', ' ')} of {lacking.of}: {lacking.reason}.", "  ", "    ")
        if lacking.observe:
            lines += wrap(f"To see it: {lacking.observe}.", "  ", "    ")
    lines += wrap(trial.why)
    if trial.outcome in ("clear", "does not apply"):
        lines += wrap("This is no all-clear: one rule looked at one thing, as recorded.")
    return "\n".join(lines) + "\n"


def _steps(world: TrialWorld, everything: bool) -> list[str]:
    told = list(world.steps) if everything else list(_once(world.steps))
    shown = told if everything else told[:MOST_STEPS]
    lines: list[str] = []
    for step in shown:
        lines += _step(step)
    if len(world.steps) > len(shown):
        left = plural(len(world.steps) - len(shown), "more step")
        lines += wrap(f"And {left}, repeated or later; --verbose shows them.", "  ")
    return [*lines, *wrap(f"Outcome: {world.outcome}.", "  ")]


def _once(steps: Iterable[Step]) -> Iterator[Step]:
    """Steps without the parts of a condition that went the same way before, as in a loop over conductors."""
    seen: set[AskStep] = set()
    for step in steps:
        if isinstance(step, AskStep) and step.sort == "part":
            if step in seen:
                continue
            seen.add(step)
        yield step


def _step(step: Step) -> list[str]:
    match step:
        case ReadStep():
            return wrap(_read_words(step), "  read  ", "        ")
        case AskStep():
            sort = "" if step.sort == "part" else f"{step.sort} "
            return wrap(f"line {step.line}, {sort}{step.text}: {step.went}", "  asks  ", "        ")
        case Row():
            unit = f" {step.unit}" if step.unit else ""
            words = f"{step.table}, {step.key}: {_row_value(step.value)}{unit} ({step.edition}; {step.source})"
            return wrap(words, "  row   ", "        ")
        case SayStep():
            return wrap(f'"{step.says}"{f" (at {step.at})" if step.at else ""}', "  says  ", "        ")
        case EndStep():
            return wrap(step.why, "  ends  ", "        ")


def _row_value(value: object) -> str:
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def _read_words(step: ReadStep) -> str:
    unit = f" {step.unit}" if step.unit not in ("", "year") and step.value != "not seen" else ""
    words = f"{step.fact} of {step.item}: {step.value}{unit}"
    if step.value == "not seen" and step.note.startswith("not recorded"):
        return f"{words} ({step.note})"
    about = [f"line {step.line}"] if step.line else ["from the trace"]
    about += [one for one in (step.how, f"by {step.by}" if step.by else "", f"on {step.on}" if step.on else "") if one]
    if step.note:
        about.append(step.note)
    more = f"; {step.kind}, can also be {joined(step.can_be)}" if step.can_be else ""
    if not more and step.kind not in ("exact", "not seen"):
        more = f"; {step.kind}"
    return f"{words} ({', '.join(about)}){more}"


def _world(world: TrialWorld, first: TrialWorld, everything: bool) -> list[str]:
    departs = joined(f"{fact} is {value}" for fact, value in world.departs) or "as recorded"
    lines = wrap(f"{departs}: {world.outcome}", "  ", "    ")
    for said in world.says:
        if said not in first.says or everything:
            lines += wrap(f'"{said}"', "    ", "     ")
    if everything:
        return [*lines, *(f"  {line}" for step in world.steps for line in _step(step)), ""]
    before = {(step.line, step.text, step.went) for step in first.steps if isinstance(step, AskStep)}
    for step in world.steps:
        if isinstance(step, AskStep) and step.sort != "part" and (step.line, step.text, step.went) not in before:
            lines += wrap(f"line {step.line}, {step.text}: {step.went}", "    ", "      ")
        elif isinstance(step, EndStep):
            lines += wrap(step.why, "    ", "      ")
    return lines


def trials_text(trials: list[Trial], head: str, *, everything: bool = False) -> str:
    """Many items: how many came out which way, then each that is not clear, then the others."""
    rule = trials[0].rule
    lines = [
        *wrap(f"{rule.name} on {plural(len(trials), rule.of, f'{rule.of} items')}"),
        *wrap(f"{rule.title}."),
        *wrap(head),
    ]
    counts: dict[str, int] = {}
    for trial in trials:
        counts[trial.outcome] = counts.get(trial.outcome, 0) + 1
    lines += ["", *(f"{count:>6}  {outcome}" for outcome, count in sorted(counts.items(), key=lambda pair: -pair[1]))]
    untold = [trial for trial in trials if trial.outcome == "cannot tell"]
    loud = [trial for trial in trials if trial.outcome not in ("clear", "does not apply", "cannot tell")]
    quiet = [trial for trial in trials if trial.outcome in ("clear", "does not apply")]
    if loud:
        lines += ["", rule_line("FOUND OR FAILED"), ""]
        for trial in loud if everything else loud[:MOST_ITEMS]:
            lines += _line(trial)
        if len(loud) > MOST_ITEMS and not everything:
            lines += wrap(f"And {len(loud) - MOST_ITEMS} more; --verbose shows them.")
    if untold:
        lines += ["", rule_line("CANNOT TELL"), "", *_together(untold, _missing, everything)]
    if quiet:
        lines += ["", rule_line("CLEAR OR NOT CONCERNED"), "", *_together(quiet, lambda trial: trial.why, everything)]
    lines += ["", *wrap(f"--item {_quoted((loud or untold or quiet)[0].item.tag)} shows one of them step by step.")]
    if quiet:
        lines += wrap("Clear is no all-clear: one rule looked at what was recorded.")
    return "\n".join(lines) + "\n"


def _together(trials: list[Trial], why: Callable[[Trial], str], everything: bool) -> list[str]:
    """Items that came out for the same reason, together, the most first."""
    groups: dict[str, list[str]] = {}
    for trial in trials:
        groups.setdefault(why(trial), []).append(trial.item.tag)
    lines: list[str] = []
    for reason, tags in sorted(groups.items(), key=lambda pair: -len(pair[1])):
        lines += wrap(reason)
        lines += wrap(quoted_list(tags, len(tags) if everything else MOST_TAGS), "    ")
    return lines


def _missing(trial: Trial) -> str:
    """What is missing for an item, and why, without the item."""
    parts = dict.fromkeys(f"{one.missing.replace('_', ' ')} ({one.reason})" for one in trial.cannot_tell)
    return f"Missing: {joined(parts)}."


def _line(trial: Trial) -> list[str]:
    words = trial.words
    lines = [pad(cut(trial.item.tag, WIDTH - len(words) - 2), WIDTH - len(words)) + words]
    for finding in trial.findings:
        lines += wrap(finding.statement, "    ")
    if trial.findings:
        return lines
    return [*lines, *wrap(trial.why, "    ")]


def _quoted(tag: str) -> str:
    return f'"{tag}"' if " " in tag else tag
