"""Bringing in a maintenance sheet: what is good of it, in one transaction."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any, NamedTuple

from django.db import connection
from django.db.models import Max
from django.utils.translation import gettext as _

from moldcare.acts.doing import Doing, once
from moldcare.acts.errors import Incomplete
from moldcare.acts.moving_in.rule_judge import RuleJudge, Start, start_for, starts
from moldcare.acts.moving_in.rule_words import brought_sentence, rule_fact
from moldcare.acts.moving_in.values import (
    LAST_DONE,
    RULE_ADDED,
    RULE_CHANGED,
    Became,
    Brought,
    FileRule,
    Judged,
    Keeper,
    MovedIn,
)
from moldcare.acts.refresh import refresh_care
from moldcare.acts.rights import Right, require
from moldcare.acts.rules.steps import NewStep, step_facts, tidied
from moldcare.acts.rules.writing import save_changed
from moldcare.acts.words import tidy
from moldcare.bulk import insert, insert_values, parts
from moldcare.care.convert import terms_snapshot
from moldcare.care.models import CareRule, Completion, Family, RuleVersion, Step
from moldcare.logbook.append import EntryDraft, append_entries, plant_chain
from moldcare.molds.models import Mold
from moldcare.plant.queries import the_plant

#: Rules that are in memory at once while they are written.
RULES_AT_ONCE = 6_000
# the interval of a sheet is the plant's own for this mold: no factor acts on it
_AS_IT_IS = Decimal("1.00")
REASON_LENGTH = 400


class _Taken(NamedTuple):
    """A row that is written, with its verdict."""

    row: FileRule
    judged: Judged


def import_rules(
    doing: Doing,
    *,
    name: str,
    sha256: str,
    body: Mapping[str, Any],
    rows: Sequence[FileRule],
    keeper: Keeper,
    reason: str = "",
) -> MovedIn:
    """Bring in the rules of a maintenance sheet, and when each was last done.

    A task that a mold has already is not doubled: another interval is taken only where chosen. A
    new rule takes steps and work from the rule of a set of its family. Each mold has one entry for
    what was brought in, and the plant's chain one for the batch; parameters as of `import_molds`.

    Parameters
    ----------
    reason : str
        Why intervals of rules that are here change, where the sheet changes any.

    Raises
    ------
    Incomplete
        If intervals change and nobody said why; nothing is written.
    """
    require(doing.person, Right.IMPORT)

    def do() -> dict[str, Any]:
        molds = _locked_molds(row.mold for row in rows)
        judge = RuleJudge(now=doing.now, plant=the_plant())
        judged = [judge.judge(row) for row in rows]
        batch, counts = keeper.judged(judged)
        taken = [_Taken(*pair) for pair in zip(rows, judged, strict=True) if pair[1].is_written]
        about = {"file": tidy(name), "batch": batch}
        if any(changes_interval(each.judged) for each in taken):
            about["reason"] = _reason_given(reason)
        brought: list[Brought] = []
        for some in _by_mold(taken):
            brought += _write(doing, some, molds=molds, about=about)
        entry = _entry(doing, about=about, sha256=sha256, counts=counts)
        refresh_care(molds={each.row.mold for each in taken})
        keeper.end(brought)
        return {"batch_id": batch, "entry_id": entry, "counts": counts}

    return MovedIn(**once(doing, "import_rules", {"sha256": sha256, **body}, do))


def _locked_molds(keys: Iterable[int]) -> dict[int, Mold]:
    """Lock molds in the order of their keys and return those that are in use."""
    found: dict[int, Mold] = {}
    for some in parts(set(keys), size=RULES_AT_ONCE):
        rows = Mold.objects.select_for_update(of=("self",), no_key=True)
        for mold in rows.filter(pk__in=some, withdrawn_at__isnull=True).order_by("pk"):
            found[mold.pk] = mold
    return found


def _by_mold(taken: Sequence[_Taken]) -> Iterable[list[_Taken]]:
    """Give rows in parts, those of one mold together, molds in the order of their keys."""
    waiting: list[_Taken] = []
    last = 0
    for each in sorted(taken, key=lambda each: each.row.mold):
        if len(waiting) >= RULES_AT_ONCE and each.row.mold != last:
            yield waiting
            waiting = []
        waiting.append(each)
        last = each.row.mold
    if waiting:
        yield waiting


def _write(
    doing: Doing,
    taken: Sequence[_Taken],
    *,
    molds: Mapping[int, Mold],
    about: Mapping[str, Any],
) -> list[Brought]:
    """Write the rows of some molds: rules, versions, steps, completions, an entry a mold."""
    new = [each for each in taken if each.judged.became is Became.NEW]
    # the chosen changes have an entry of their own each, with what was and what is
    versions = {
        id(each): _change(doing, each, molds=molds, about=about)
        for each in taken
        if changes_interval(each.judged)
    }
    added = _insert_rules(doing, new, molds=molds, about=about)
    keys = {id(each): rule.pk for each, rule in zip(new, added, strict=True)}
    keys |= {id(each): each.judged.rule for each in taken if each.judged.rule is not None}
    said = [each for each in taken if id(each) not in versions or each.judged.takes_last_done]
    entries = _entries(doing, said, molds=molds, keys=keys, about=about)
    _insert_versions(doing, new, rules=added, entries=entries)
    done = _insert_completions(doing, taken, keys=keys, entries=entries)
    brought = []
    for each in taken:
        rule = keys[id(each)]
        completion = done.get(id(each))
        if id(each) in versions:
            entry, before, after = versions[id(each)]
            brought.append(
                Brought(
                    each.row.row,
                    RULE_CHANGED,
                    each.row.mold,
                    rule,
                    completion,
                    before,
                    after,
                    entry,
                )
            )
            continue
        act = RULE_ADDED if each.judged.became is Became.NEW else LAST_DONE
        entry = entries[each.row.mold]
        brought.append(Brought(each.row.row, act, each.row.mold, rule, completion, {}, {}, entry))
    return brought


def _insert_rules(
    doing: Doing,
    new: Sequence[_Taken],
    *,
    molds: Mapping[int, Mold],
    about: Mapping[str, Any],
) -> list[CareRule]:
    if not new:
        return []
    families = {family.key: family for family in Family.objects.all()}
    known = starts()
    rules, begun = [], []
    for each in new:
        row = each.row
        start = start_for(row, known=known)
        rules.append(
            CareRule(
                mold_id=row.mold,
                target=CareRule.Target.MOLD,
                name=tidy(row.task),
                family=families[row.family],
                count_base=row.count_interval,
                count_basis=row.count_basis,
                period_n=row.period_n,
                period_unit=row.period_unit if row.period_n else "",
                hours_limit=row.hours_limit,
                event=row.event,
                factor_resin=_AS_IT_IS,
                factor_filler=_AS_IT_IS,
                factor_finish=_AS_IT_IS,
                reason=reason_of(about),
                entered_at=doing.now,
                **(start.terms if start else {}),
            )
        )
        begun.append(start)
    before = CareRule.objects.aggregate(newest=Max("pk"))["newest"] or 0
    insert(rules)
    written = CareRule.objects.filter(
        pk__gt=before, mold__in={each.row.mold for each in new}
    ).values_list("mold_id", "name", "pk")
    keys = {(mold, name): pk for mold, name, pk in written.order_by()}
    for rule in rules:
        rule.pk = keys[(rule.mold_id or 0, rule.name)]
    _insert_steps(rules, begun=begun)
    return rules


def _insert_steps(rules: Sequence[CareRule], *, begun: Sequence[Start | None]) -> None:
    ready: dict[int, list[tuple[Any, ...]]] = {}
    rows: list[tuple[Any, ...]] = []
    for rule, start in zip(rules, begun, strict=True):
        if start is None:
            continue
        if id(start) not in ready:
            ready[id(start)] = [
                (
                    place,
                    step.text,
                    str(step.kind),
                    step.unit,
                    _decimal("low", step.low),
                    _decimal("high", step.high),
                    list(step.choices),
                )
                for place, step in enumerate(steps_from(start), start=1)
            ]
        rows += [(rule.pk, *values) for values in ready[id(start)]]
    names = ("rule", "place", "text", "kind", "unit", "low", "high", "choices")
    insert_values(Step, names, rows)


def _decimal(name: str, value: Any) -> Any:
    field: Any = Step._meta.get_field(name)
    return None if value is None else field.get_db_prep_save(value, connection=connection)


def steps_from(start: Start) -> list[NewStep]:
    """Return the steps that a rule begins with."""
    return tidied([NewStep.kept(step) for step in start.steps])


def _insert_versions(
    doing: Doing,
    new: Sequence[_Taken],
    *,
    rules: Sequence[CareRule],
    entries: Mapping[int, int],
) -> None:
    known = starts()
    steps: dict[int, list[dict[str, Any]]] = {}
    now = connection.ops.adapt_datetimefield_value(doing.now)
    rows = []
    for each, rule in zip(new, rules, strict=True):
        start = start_for(each.row, known=known)
        if start is not None and id(start) not in steps:
            steps[id(start)] = step_facts(steps_from(start))
        kept = {
            **terms_snapshot(rule),
            "steps": steps[id(start)] if start is not None else [],
            "covers": [],
            "changes_component": rule.changes_component,
        }
        rows.append((rule.pk, kept, rule.reason, doing.person.pk, entries[each.row.mold], now))
    names = ("rule", "terms", "reason", "person", "entry", "written_at")
    insert_values(RuleVersion, names, rows)


def _insert_completions(
    doing: Doing,
    taken: Sequence[_Taken],
    *,
    keys: Mapping[int, int],
    entries: Mapping[int, int],
) -> dict[int, int]:
    """Write when rules were last done; return the keys of the completions, by row."""
    done = [each for each in taken if each.judged.takes_last_done]
    if not done:
        return {}
    before = Completion.objects.aggregate(newest=Max("pk"))["newest"] or 0
    insert(
        [
            Completion(
                rule_id=keys[id(each)],
                declared_on=each.row.last_done,
                declared_count=each.judged.done_count,
                person=doing.person,
                entry_id=entries[each.row.mold],
                written_at=doing.now,
            )
            for each in done
        ]
    )
    written = Completion.objects.filter(
        pk__gt=before, entry__in={entries[each.row.mold] for each in done}
    )
    found = dict(written.order_by().values_list("rule_id", "pk"))
    return {id(each): found[keys[id(each)]] for each in done}


def _change(
    doing: Doing, each: _Taken, *, molds: Mapping[int, Mold], about: Mapping[str, Any]
) -> tuple[int, dict[str, Any], dict[str, Any]]:
    """Put another interval on a rule; return its entry, and what was and what is."""
    rule = CareRule.objects.select_related("family").get(pk=each.judged.rule or 0)
    before = {name: getattr(rule, name) for name in (*each.judged.changes, "is_adjusted")}
    version = save_changed(
        replace(doing, hand_in=None),
        rule,
        subject=molds[each.row.mold],
        changes=dict(each.judged.changes),
        reason=f"{about['reason']} ({reason_of(about)})"[:REASON_LENGTH],
        steps=None,
        covers=None,
        is_adjusted=True,
    )
    if version is None:
        raise RuntimeError(f"Rule {rule.pk} was to be changed, and nothing was different.")
    return version.entry_id, before, dict(each.judged.changes)


def _entries(
    doing: Doing,
    taken: Sequence[_Taken],
    *,
    molds: Mapping[int, Mold],
    keys: Mapping[int, int],
    about: Mapping[str, Any],
) -> dict[int, int]:
    """Write one entry a mold that says what was brought in; return their keys by mold."""
    of_mold: dict[int, list[_Taken]] = {}
    for each in taken:
        of_mold.setdefault(each.row.mold, []).append(each)
    order = sorted(of_mold)
    written = append_entries(
        [
            EntryDraft(
                chain=molds[mold].chain_id,
                kind="rules_brought_in",
                sentence=brought_sentence(of_mold[mold], file=about["file"]),
                facts={
                    "mold": molds[mold].number,
                    "rules": [
                        rule_fact(each.row, judged=each.judged, rule=keys[id(each)])
                        for each in of_mold[mold]
                    ],
                    **about,
                },
            )
            for mold in order
        ],
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
    )
    return dict(zip(order, written, strict=True))


def reason_of(about: Mapping[str, Any]) -> str:
    """Return why a rule of a sheet has its interval."""
    return f"maintenance sheet {about['file']}"[:REASON_LENGTH]


def changes_interval(judged: Judged) -> bool:
    """Tell whether a row puts another interval on a rule that is here."""
    return judged.became is Became.CHANGED and bool(judged.changes)


def _reason_given(text: str) -> str:
    reason = tidy(text)
    if not reason:
        raise Incomplete(
            _("Say why intervals that are here change: the logbook keeps it. Nothing was written.")
        )
    return reason


def _entry(
    doing: Doing, *, about: Mapping[str, Any], sha256: str, counts: Mapping[str, int]
) -> int:
    said = ", ".join(f"{number} {word.replace('_', ' ')}" for word, number in counts.items())
    (entry,) = append_entries(
        [
            EntryDraft(
                chain=plant_chain().pk,
                kind="rules imported",
                sentence=(
                    f"Care rules brought in from the file {about['file']}: "
                    f"{said or 'nothing in it'}."
                ),
                facts={**about, "sha256": sha256, "counts": dict(counts)},
            )
        ],
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
    )
    return entry
