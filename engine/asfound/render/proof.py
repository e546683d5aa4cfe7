"""What proving rules showed, as text for a terminal: failures first, each with place, cause and next step."""

from __future__ import annotations

import os
from collections.abc import Iterable
from itertools import groupby
from pathlib import Path

from asfound.judge.cases import cases_file
from asfound.kit.prove import CaseProof, Proof, Trouble
from asfound.kit.prove_case import NOT_FILLED_IN
from asfound.kit.prove_vary import CHANGED, DOUBTED, Variation
from asfound.render.lines import WIDTH, cut, pad, rule_line, wrap
from asfound.wording import joined, plural


def proofs_text(proofs: list[Proof], troubles: list[Trouble], *, everything: bool = False) -> str:
    """The whole. `troubles` are those of files as a whole; `everything` shows every case and every variation."""
    found = [*troubles, *(one for proof in proofs for one in proof.all_troubles)]
    failures = [one for one in found if one.grave]
    warnings = [one for one in found if not one.grave]
    parts = []
    if failures:
        parts.append(_block(plural(len(failures), "failure").upper(), failures))
    if warnings:
        parts.append(_block(f"{plural(len(warnings), 'warning')}, worth a look".upper(), warnings))
    if everything:
        parts += [_whole(proof) for proof in proofs]
    parts += [_rules(proofs)] if proofs else []
    parts.append(_total(proofs, failures, warnings, everything))
    return "\n\n".join(parts) + "\n"


def _block(title: str, troubles: Iterable[Trouble]) -> str:
    lines = [rule_line(title)]
    for one in troubles:
        lines += ["", *trouble_lines(one)]
    return "\n".join(lines)


def trouble_lines(one: Trouble) -> list[str]:
    """One trouble: where, which rule and case, what, the texts to compare, and the next step."""
    place = f"{_short(one.file)}{f' line {one.line}' if one.line else ''}, {one.rule}"
    lines = wrap(f"{place}: {one.case}" if one.case else place, "", "  ")
    lines += wrap(f"{_opened(one.cause).removesuffix('.')}.", "  ")
    widest = max((len(name) for name, _ in one.beside), default=0)
    for name, text in one.beside:
        lines += wrap(f'"{text}"', f"    {pad(f'{name}:', widest + 1)} ", " " * (widest + 6))
    return [*lines, *wrap(f"Next: {one.step}.", "  ", "    ")]


def _opened(cause: str) -> str:
    """A cause with a capital, unless it opens with a path or what somebody wrote."""
    first = cause.split(" ", 1)[0]
    return cause if any(mark in first for mark in "/\\._'\"`") else f"{cause[:1].upper()}{cause[1:]}"


def _short(path: Path) -> str:
    """A path from the folder the command was given in, where that is shorter."""
    try:
        near = os.path.relpath(path)
    except ValueError:
        return str(path)
    return near if len(near) < len(str(path)) else str(path)


def _rules(proofs: list[Proof]) -> str:
    """A line or two for each rule: cases, facts, conditions, time."""
    lines = [rule_line("RULES")]
    for proof in proofs:
        failed = len(proof.failures)
        mark = plural(failed, "failure") if failed else "proven, with warnings" if proof.warnings else "proven"
        lines += ["", pad(cut(proof.rule.name, WIDTH - len(mark) - 1), WIDTH - len(mark)) + mark]
        lines += wrap(f"{summary(proof)}.", "  ")
        if proof.facts:
            shown = [
                f"{_leaf(proof, one.path)}{'' if one.turned or one.relation else ' (*)'}"
                for one in proof.facts
                if one.read
            ]
            lines += wrap(f"Reads {joined(shown) or 'nothing'}.", "  ", "    ")
        tables = dict.fromkeys(row.table for case in proof.cases for row in case.rows)
        if tables:
            lines += wrap(f"Tables: {', '.join(tables)}.", "  ", "    ")
    if any(one.read and not one.turned and not one.relation for proof in proofs for one in proof.facts):
        lines += ["", "(*) no other value of it changed a verdict in any case"]
    return "\n".join(lines)


def summary(proof: Proof) -> str:
    """`8 cases, 41 variations, 5 of 5 conditions both ways, 3 µs an item`."""
    if any(case.verdict.outcome == NOT_FILLED_IN for case in proof.cases):
        return f"{plural(len(proof.cases), 'case')}, not all of them filled in"
    variations = sum(len(case.variations) for case in proof.cases)
    whole = [(one, ways) for one, ways in proof.conditions if one.sort != "part"]
    both = sum(len(ways) == 2 for _, ways in whole)
    parts = [plural(len(proof.cases), "case"), plural(variations, "variation")]
    parts.append(f"{both} of {plural(len(whole), 'condition')} both ways" if whole else "no conditions")
    if proof.seconds is not None:
        parts.append(f"{proof.seconds * 1e6:.0f} µs an item")
    return ", ".join(parts)


def _leaf(proof: Proof, path: str) -> str:
    return path.removeprefix(f"{proof.rule.of}.")


def _total(proofs: list[Proof], failures: list[Trouble], warnings: list[Trouble], everything: bool) -> str:
    cases = sum(len(proof.cases) for proof in proofs)
    counts = f"{plural(len(proofs), 'rule')}, {plural(cases, 'case')}: {plural(len(failures), 'failure')}"
    counts += f", {plural(len(warnings), 'warning')}."
    lines = [rule_line("RESULT"), "", *wrap(counts)]
    if not everything and proofs:
        lines += wrap("--verbose shows every case with what it read, and what each fact changed does to the verdict.")
    lines += wrap(
        "A rule that is proven keeps its promises on its own cases; whether it is right is for people to say."
    )
    return "\n".join(lines)


# -- one rule in full


def _whole(proof: Proof) -> str:
    rule = proof.rule
    lines = [
        rule_line(rule.name),
        "",
        *wrap(f"{rule.title}. Looks at each {rule.of}; {_short(rule.file)} line {rule.line}."),
        *wrap(f"Cases: {_short(cases_file(rule))}. {summary(proof)}."),
    ]
    for one in proof.cases:
        lines += ["", *_case(one)]
    if proof.conditions:
        lines += ["", "Conditions, over all cases:"]
        for condition, ways in proof.conditions:
            met = "both ways" if len(ways) == 2 else f"only {condition.way(True in ways)}" if ways else "not met"
            indent = "    " if condition.sort == "part" else "  "
            head = f"{indent}line {condition.line}, {'' if condition.sort == 'part' else f'{condition.sort} '}"
            lines += wrap(f"{condition.text}: {met}", head, "      ")
    return "\n".join(lines)


def _case(one: CaseProof) -> list[str]:
    case = one.case
    date = f", as of {case.as_of}" if case.as_of else ""
    lines = wrap(f"{case.list}: {case.why} (line {case.line}{date})", "", "  ")
    worlds = f", over {one.worlds} worlds" if one.worlds > 1 else ""
    lines += wrap(f"{one.verdict.words[:1].upper()}{one.verdict.words[1:]}{worlds}.", "  ")
    for said in one.verdict.says:
        lines += wrap(f'"{said}"', "  ", "   ")
    shown = [f"{read.path} {read.value}" for read in one.reads]
    lines += wrap(f"Reads: {'; '.join(shown) or 'nothing'}.", "  ", "    ")
    if one.rows:
        rows = [f"{row.table}, {row.key}: {row.value} {row.unit} ({row.edition})" for row in one.rows]
        lines += wrap(f"Rows: {'; '.join(rows)}.", "  ", "    ")
    for _, group in groupby(one.variations, key=lambda variation: (variation.path, variation.item, variation.was)):
        held = list(group)
        lines += wrap(f"{held[0].path} of {held[0].item}, {held[0].was}", "    ", "      ")
        for became, alike in groupby(held, key=lambda one: (one.sort, _became(one))):
            how = ", ".join(_how(variation) for variation in alike)
            head = f"      {pad(f'{how}:', 24)} "
            lines += (
                wrap(became[1], head, " " * 31)
                if len(head) <= 50
                else wrap(f"{how}: {became[1]}", "      ", "        ")
            )
    return lines


def _how(variation: Variation) -> str:
    if variation.sort == CHANGED:
        return variation.to or "none"
    if variation.sort == DOUBTED:
        return f"doubted, {variation.to}"
    return f"left out{f', {variation.to}' if variation.to else ''}"


def _became(variation: Variation) -> str:
    if variation.turned:
        return variation.verdict.words
    return "the same, in other words" if variation.reworded else "the same"
