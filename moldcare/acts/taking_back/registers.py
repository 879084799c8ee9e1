"""Taking back an import of molds or of care rules."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict
from typing import Any

from moldcare.acts.doing import Doing, once
from moldcare.acts.moving_in import MOLD_ADDED, MOLD_CHANGED, Brought
from moldcare.acts.refresh import refresh_counts
from moldcare.acts.rights import Right, require
from moldcare.acts.taking_back.beside import lock_beside, put_racks_out_of_use, withdraw_owners
from moldcare.acts.taking_back.care import put_rules_back, take_care_back
from moldcare.acts.taking_back.later import LaterFacts
from moldcare.acts.taking_back.mold_changes import put_molds_back
from moldcare.acts.taking_back.values import Undone, Work
from moldcare.acts.words import sentence_end
from moldcare.bulk import parts
from moldcare.care.models import CareRule
from moldcare.logbook.append import EntryDraft
from moldcare.molds.models import Mold

MOLDS_AT_ONCE = 5_000


def take_back_import(
    doing: Doing,
    *,
    batch: int,
    name: str,
    reason: str,
    brought: Callable[[], Sequence[Brought]],
    undone_entries: Iterable[int] = (),
    keep: Callable[[Undone], None],
) -> Undone:
    """Take back all that an import of molds or rules brought, in one transaction.

    New molds and rules are withdrawn, what was changed is put back, completions are taken back;
    owners and racks that it made go when nothing else uses them. What has later facts on it stays
    as it is and is listed.

    Parameters
    ----------
    batch, name : int, str
        The import, and the file's name.
    reason : str
        Why; the logbook keeps it.
    brought : callable
        Gives what it brought, its rows that were mended since included; asked in the transaction.
    undone_entries : iterable of int
        Keys of entries of other imports that were taken back themselves, and of those that say so:
        they are no later facts.
    keep : callable
        Keeps the answer; raises when the import was taken back already.

    Raises
    ------
    Incomplete
        If there is no reason.
    DoesNotFit
        If nothing of it can be taken back.
    """
    require(doing.person, Right.IMPORT)

    def do() -> dict[str, Any]:
        work = Work.begun(doing, batch=batch, name=name, reason=reason)
        rows = brought()
        molds = _locked(each.mold for each in rows if each.mold is not None)
        lock_beside(rows)
        rules = _rules(each.rule for each in rows if each.rule is not None)
        later = LaterFacts(brought=rows, undone_entries=undone_entries)
        free = []
        for each in rows:
            if each.act == MOLD_CHANGED or each.mold is None:
                continue
            why = later.against(each, mold=molds.get(each.mold), rules=rules)
            if why:
                work.stays(_named(each, molds=molds, rules=rules), row=each.row, why=why)
            else:
                free.append(each)
        changed = [each for each in rows if each.act == MOLD_CHANGED]
        withdrawn = _withdraw_molds(free, molds=molds, work=work)
        put_back, counters = put_molds_back(changed, molds=molds, work=work)
        counts = {
            "molds_withdrawn": withdrawn,
            "molds_put_back": put_back,
            "rules_put_back": put_rules_back(free, molds=molds, rules=rules, work=work),
            **take_care_back(free, molds=molds, rules=rules, work=work),
        }
        owners = withdraw_owners(rows, work=work)
        racks = put_racks_out_of_use(rows, work=work)
        counts |= {"owners_withdrawn": len(owners), "racks_out_of_use": len(racks)}
        undone = work.end(counts=counts, owners=owners, racks=racks)
        keep(undone)
        refresh_counts(counters=counters, molds=set(molds))
        return asdict(undone)

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


def _named(each: Brought, *, molds: dict[int, Mold], rules: dict[int, CareRule]) -> str:
    mold, rule = molds.get(each.mold or 0), rules.get(each.rule or 0)
    number = mold.number if mold else ""
    return f"{number}: {rule.name}" if rule else number


def _withdraw_molds(free: Sequence[Brought], *, molds: dict[int, Mold], work: Work) -> int:
    added = [molds[each.mold] for each in free if each.act == MOLD_ADDED and each.mold is not None]
    for some in parts({mold.pk for mold in added}, size=MOLDS_AT_ONCE):
        Mold.objects.filter(pk__in=some).update(withdrawn_at=work.doing.now)
    work.append(
        [
            EntryDraft(
                chain=mold.chain_id,
                kind="mold_withdrawn",
                sentence=f"Withdrawn: {work.said}. {sentence_end(work.reason)}",
                facts={"mold": mold.number, **work.facts},
            )
            for mold in added
        ]
    )
    return len(added)
