"""Taking a whole import back: by facts that say so, and only what nothing else was built on."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from moldcare.acts.doing import Doing, once
from moldcare.acts.locks import counters_that_count, known_so_far
from moldcare.acts.moving_in.later import LaterFacts
from moldcare.acts.moving_in.mold_changes import CHANGED_FIELDS
from moldcare.acts.moving_in.values import (
    LAST_DONE,
    MOLD_ADDED,
    MOLD_CHANGED,
    RULE_ADDED,
    RULE_CHANGED,
)
from moldcare.acts.records import change_record, change_words
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rights import Right, require
from moldcare.acts.rules.writing import save_changed
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.bulk import insert, parts
from moldcare.care.models import CareRule, TakenBack
from moldcare.logbook.append import EntryDraft, append_entries, plant_chain
from moldcare.logbook.models import Entry
from moldcare.molds.models import CycleTime, Mold, Owner

MOLDS_AT_ONCE = 5_000


@dataclass(frozen=True, kw_only=True, slots=True)
class BroughtRow:
    """What one row brought, as it was kept; see `Brought`."""

    row: int
    act: str
    mold: int
    rule: int | None
    completion: int | None
    before: Mapping[str, Any]
    after: Mapping[str, Any]
    entry: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Undone:
    """What became of an import that was taken back.

    Parameters
    ----------
    counts : dict of str to int
        How many molds and rules were withdrawn, changes put back, completions taken back.
    stayed : list of dict
        What has later facts on it: its row, mold, rule, and why it stayed.
    """

    entry_id: int
    counts: dict[str, int]
    stayed: list[dict[str, Any]]


@dataclass(frozen=True, kw_only=True, slots=True)
class _Work:
    """What everything in one undoing needs."""

    doing: Doing
    file: str
    batch: int
    reason: str
    molds: Mapping[int, Mold]
    rules: Mapping[int, CareRule]

    @property
    def said(self) -> str:
        """How entries begin."""
        return f"The import of the file {self.file} was taken back"

    @property
    def facts(self) -> dict[str, Any]:
        """What entries hold of the import."""
        return {"file": self.file, "batch": self.batch, "reason": self.reason}


def take_back_import(
    doing: Doing,
    *,
    batch: int,
    name: str,
    reason: str,
    brought: Sequence[BroughtRow],
    undone_entries: Iterable[int] = (),
    keep: Callable[[Undone], None],
) -> Undone:
    """Take back all that an import of molds or rules brought, in one transaction.

    New molds and rules are withdrawn, what was changed is put back, completions are taken back.
    What has later facts on it stays as it is and is listed.

    Parameters
    ----------
    batch, name : int, str
        The import, and the file's name.
    reason : str
        Why; the logbook keeps it.
    brought : sequence of BroughtRow
        What it brought.
    undone_entries : iterable of int
        Keys of entries of other imports that were taken back themselves: they are no later facts.
    keep : callable
        Keeps the answer; raises when the import was taken back already.

    Raises
    ------
    Incomplete
        If there is no reason.
    """
    require(doing.person, Right.IMPORT)

    def do() -> dict[str, Any]:
        words = reason_given(reason)
        work = _Work(
            doing=replace(doing, hand_in=None),
            file=tidy(name),
            batch=batch,
            reason=words,
            molds=_locked(each.mold for each in brought),
            rules=_rules(each.rule for each in brought if each.rule is not None),
        )
        later = LaterFacts(brought=brought, undone_entries=undone_entries)
        stayed = []
        free = []
        for each in brought:
            why = later.against(each, mold=work.molds.get(each.mold), rules=work.rules)
            if why:
                stayed.append(_stayed(each, why=why, work=work))
            else:
                free.append(each)
        counters = {
            counter
            for each in free
            if "cycle_time_s" in each.before
            for counter in counters_that_count(work.molds[each.mold])
        }
        known = known_so_far(counters)
        counts = {
            "molds_withdrawn": _withdraw_molds(free, work=work),
            "molds_put_back": _put_molds_back(free, work=work, known=known),
            "rules_put_back": _put_rules_back(free, work=work),
            "rules_withdrawn": 0,
            "completions_taken_back": 0,
        }
        counts |= _take_care_back(free, work=work)
        counts = {word: number for word, number in counts.items() if number}
        undone = Undone(
            entry_id=_entry(work, counts=counts, stayed=stayed), counts=counts, stayed=stayed
        )
        keep(undone)
        refresh_counts(counters=counters, molds={each.mold for each in free})
        return {"entry_id": undone.entry_id, "counts": counts, "stayed": stayed}

    body = {"batch": batch, "reason": reason}
    return Undone(**once(doing, "take_back_import", body, do))


def _locked(keys: Iterable[int]) -> dict[int, Mold]:
    found: dict[int, Mold] = {}
    for some in parts(set(keys), size=MOLDS_AT_ONCE):
        rows = Mold.objects.select_for_update(of=("self",), no_key=True)
        found |= {mold.pk: mold for mold in rows.filter(pk__in=some).order_by("pk")}
    return found


def _rules(keys: Iterable[int]) -> dict[int, CareRule]:
    found: dict[int, CareRule] = {}
    for some in parts(set(keys), size=MOLDS_AT_ONCE):
        found |= CareRule.objects.select_related("family").in_bulk(some)
    return found


def _stayed(each: BroughtRow, *, why: str, work: _Work) -> dict[str, Any]:
    mold = work.molds.get(each.mold)
    rule = work.rules.get(each.rule or 0)
    return {
        "row": each.row,
        "mold": mold.number if mold else "",
        "rule": rule.name if rule else "",
        "why": why,
    }


def _withdraw_molds(free: Sequence[BroughtRow], *, work: _Work) -> int:
    added = [each for each in free if each.act == MOLD_ADDED]
    for some in parts({each.mold for each in added}, size=MOLDS_AT_ONCE):
        Mold.objects.filter(pk__in=some).update(withdrawn_at=work.doing.now)
    _append(
        [
            EntryDraft(
                chain=work.molds[each.mold].chain_id,
                kind="mold_withdrawn",
                sentence=f"Withdrawn: {work.said}. {sentence_end(work.reason)}",
                facts={"mold": work.molds[each.mold].number, **work.facts},
            )
            for each in added
        ],
        work=work,
    )
    return len(added)


def _put_molds_back(free: Sequence[BroughtRow], *, work: _Work, known: int) -> int:
    changed = [each for each in free if each.act == MOLD_CHANGED]
    for each in changed:
        mold = work.molds[each.mold]
        before = {name: each.before[name] for name in each.before if name in CHANGED_FIELDS}
        # cavities and circuits that were added stay: nothing of a mold is deleted
        before.pop("cavity_count", None)
        was: dict[str, Any] = {}
        now: dict[str, Any] = {}
        if before:
            values = {name: _value(mold, name, value) for name, value in before.items()}
            was, now = change_record(mold, changes=values, allowed=CHANGED_FIELDS)
        has_time = "cycle_time_s" in each.before
        if has_time:
            was["cycle_time_s"] = each.after["cycle_time_s"]
            now["cycle_time_s"] = each.before["cycle_time_s"]
        called = {"cycle_time_s": "standard cycle in s"}
        said = change_words(was, after=now, of=mold, called=called) or "nothing to put back"
        (entry,) = _append(
            [
                EntryDraft(
                    chain=mold.chain_id,
                    kind="opening_corrected" if "opening_count" in now else "mold_edited",
                    sentence=f"{work.said}: {said}. Reason: {sentence_end(work.reason)}",
                    facts={"mold": mold.number, "before": was, "after": now, **work.facts},
                )
            ],
            work=work,
        )
        if has_time:
            CycleTime.objects.create(
                mold=mold,
                standard_s=each.before["cycle_time_s"],
                valid_from=work.doing.now,
                reason=work.reason[:200],
                entry_id=entry,
                after_reading=known,
                written_at=work.doing.now,
            )
    return len(changed)


def _value(mold: Mold, name: str, value: Any) -> Any:
    """Return a kept value as the record's field takes it."""
    if name == "owner":
        return None if value in (None, "") else Owner.objects.filter(name=value).first()
    field: Any = mold._meta.get_field(name)
    if value is None and not field.null:
        return field.get_default()
    return field.to_python(value)


def _put_rules_back(free: Sequence[BroughtRow], *, work: _Work) -> int:
    changed = [each for each in free if each.act == RULE_CHANGED]
    for each in changed:
        save_changed(
            work.doing,
            work.rules[each.rule or 0],
            subject=work.molds[each.mold],
            changes=dict(each.before),
            reason=f"{work.said}. {work.reason}"[:400],
            steps=None,
            covers=None,
            is_adjusted=True,
        )
    return len(changed)


def _take_care_back(free: Sequence[BroughtRow], *, work: _Work) -> dict[str, int]:
    """Withdraw rules and take completions back, with one entry a mold."""
    care = [each for each in free if each.act in {RULE_ADDED, RULE_CHANGED, LAST_DONE}]
    of_mold: dict[int, list[BroughtRow]] = {}
    for each in care:
        if each.act == RULE_ADDED or each.completion is not None:
            of_mold.setdefault(each.mold, []).append(each)
    withdrawn = {each.rule for each in care if each.act == RULE_ADDED and each.rule is not None}
    for some in parts(withdrawn, size=MOLDS_AT_ONCE):
        CareRule.objects.filter(pk__in=some).update(withdrawn_at=work.doing.now)
    order = sorted(of_mold)
    wrong = Entry.objects.in_bulk({of_mold[mold][0].entry for mold in order})
    entries = _append(
        [
            EntryDraft(
                chain=work.molds[mold].chain_id,
                kind="rules_taken_back",
                sentence=(
                    f"{work.said}: "
                    + "; ".join(_care_words(each, work=work) for each in of_mold[mold])
                    + f". Reason: {sentence_end(work.reason)}"
                ),
                facts={
                    "mold": work.molds[mold].number,
                    "corrects": wrong[of_mold[mold][0].entry].number,
                    "rules": [each.rule for each in of_mold[mold]],
                    **work.facts,
                },
            )
            for mold in order
        ],
        work=work,
    )
    of_entry = dict(zip(order, entries, strict=True))
    back = [
        TakenBack(
            completion_id=each.completion,
            reason=work.reason[:200],
            person=work.doing.person,
            entry_id=of_entry[each.mold],
            written_at=work.doing.now,
        )
        for each in care
        if each.completion is not None
    ]
    insert(back)
    return {"rules_withdrawn": len(withdrawn), "completions_taken_back": len(back)}


def _care_words(each: BroughtRow, *, work: _Work) -> str:
    rule = work.rules[each.rule or 0]
    what = "withdrawn" if each.act == RULE_ADDED else "its last time taken back"
    return f"“{rule.name}” {what}"


def _append(drafts: Sequence[EntryDraft], *, work: _Work) -> list[int]:
    return append_entries(
        drafts,
        happened_at=work.doing.now,
        written_at=work.doing.now,
        author=work.doing.person,
    )


def _entry(work: _Work, *, counts: Mapping[str, int], stayed: Sequence[Mapping[str, Any]]) -> int:
    said = ", ".join(f"{number} {word.replace('_', ' ')}" for word, number in counts.items())
    sentence = f"{work.said}: {said or 'nothing'}."
    if stayed:
        sentence += f" {len(stayed)} stayed, with later facts on them."
    (entry,) = _append(
        [
            EntryDraft(
                chain=plant_chain().pk,
                kind="import taken back",
                sentence=f"{sentence} Reason: {sentence_end(work.reason)}",
                facts={**work.facts, "counts": dict(counts), "stayed": len(stayed)},
            )
        ],
        work=work,
    )
    return entry
