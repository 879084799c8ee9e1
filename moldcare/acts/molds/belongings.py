"""Owners, auxiliaries and supplies."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.db import models
from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, checked, once
from moldcare.acts.errors import DoesNotFit, NotFound
from moldcare.acts.locks import lock_numbers
from moldcare.acts.records import (
    add_record,
    change_record,
    change_words,
    fact_value,
    fill,
    record_facts,
)
from moldcare.acts.refresh import refresh_care
from moldcare.acts.rights import Right, require
from moldcare.acts.words import reason_given, sentence_end, tidy
from moldcare.logbook.append import append_entry, new_chain, plant_chain
from moldcare.logbook.models import Chain
from moldcare.molds.models import Auxiliary, Mold, Owner, Supply, name_key
from moldcare.molds.queries import owners_in_use
from moldcare.work.models import Order

OWNER_FIELDS = ("name", "is_customer", "retention_years", "contact")
AUXILIARY_FIELDS = ("number", "name", "kind")
SUPPLY_FIELDS = ("number", "name", "unit", "minimum", "place")


def add_owner(doing: Doing, *, name: str, **fields: Any) -> Written:
    """Add an owner of molds; two spellings of one name are one owner."""
    require(doing.person, Right.EDIT_MOLDS)
    values = {"name": name, **fields}

    def do() -> dict[str, Any]:
        row = Owner()
        fill(row, values=values, allowed=OWNER_FIELDS)
        _refuse_same_owner(row)
        add_record(row)
        return _write(doing, chain=plant_chain(), kind="owner", row=row, fields=OWNER_FIELDS)

    return Written.read(once(doing, "add_owner", values, do))


def edit_owner(doing: Doing, *, owner: Owner, changes: Mapping[str, Any]) -> Written:
    """Change an owner."""
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        held = _lock_owner(owner)
        before, after = change_record(held, changes=changes, allowed=OWNER_FIELDS)
        _refuse_same_owner(held)
        return _write(
            doing, chain=plant_chain(), kind="owner", row=held, before=before, after=after
        )

    return Written.read(once(doing, "edit_owner", {"owner": owner, "changes": changes}, do))


def withdraw_owner(doing: Doing, *, owner: Owner, reason: str) -> Written:
    """Take an owner off the list; its withdrawn molds keep its name and years.

    Raises
    ------
    DoesNotFit
        If a mold in our care is theirs.
    NotFound
        If it was withdrawn already.
    """
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        held = _lock_owner(owner)
        words = reason_given(reason)
        theirs = Mold.objects.filter(owner=held, withdrawn_at__isnull=True).order_by("sort_key")
        first = theirs.first()
        if first is not None:
            raise DoesNotFit(
                _("Mold %(mold)s is theirs. Give it another owner first.") % {"mold": first.number}
            )
        said = f"Owner {held} withdrawn."
        return _withdraw(doing, held, chain=plant_chain(), kind="owner", said=said, reason=words)

    body = {"owner": owner, "reason": reason}
    return Written.read(once(doing, "withdraw_owner", body, do))


def add_auxiliary(doing: Doing, *, number: str, name: str, kind: str) -> Written:
    """Add an auxiliary with a chain of its own."""
    require(doing.person, Right.EDIT_MOLDS)
    values = {"number": number, "name": name, "kind": kind}

    def do() -> dict[str, Any]:
        lock_numbers()
        row = Auxiliary(entered_at=doing.now)
        fill(row, values=values, allowed=AUXILIARY_FIELDS)
        row.number_key = name_key(row.number)
        _refuse_same_auxiliary(row)
        checked(row, exclude=("chain", "number_key"))
        row.chain = new_chain(Chain.Kind.AUXILIARY, row.number)
        add_record(row)
        return _write(doing, chain=row.chain, kind="auxiliary", row=row, fields=AUXILIARY_FIELDS)

    return Written.read(once(doing, "add_auxiliary", values, do))


def edit_auxiliary(doing: Doing, *, auxiliary: Auxiliary, changes: Mapping[str, Any]) -> Written:
    """Change an auxiliary."""
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        held = _lock_auxiliary(auxiliary)
        held.number_key = name_key(tidy(str(changes.get("number", held.number))))
        _refuse_same_auxiliary(held)
        before, after = change_record(held, changes=changes, allowed=AUXILIARY_FIELDS)
        return _write(
            doing, chain=held.chain, kind="auxiliary", row=held, before=before, after=after
        )

    body = {"auxiliary": auxiliary, "changes": changes}
    return Written.read(once(doing, "edit_auxiliary", body, do))


def withdraw_auxiliary(doing: Doing, *, auxiliary: Auxiliary, reason: str) -> Written:
    """Take an auxiliary out of our care; its logbook stays.

    Raises
    ------
    DoesNotFit
        If it has an order that is not signed.
    """
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        held = _lock_auxiliary(auxiliary)
        words = reason_given(reason)
        order = Order.objects.filter(
            auxiliary=held, signed_at__isnull=True, struck_out_at__isnull=True
        ).first()
        if order is not None:
            raise DoesNotFit(
                _("Order %(number)s is not signed. Sign it or strike it out first.")
                % {"number": order.number}
            )
        answer = _withdraw(
            doing, held, chain=held.chain, kind="auxiliary", said="Withdrawn.", reason=words
        )
        refresh_care(auxiliaries=[held.pk])
        return answer

    body = {"auxiliary": auxiliary, "reason": reason}
    return Written.read(once(doing, "withdraw_auxiliary", body, do))


def add_supply(
    doing: Doing, *, number: str, name: str, molds: Sequence[Mold] = (), **fields: Any
) -> Written:
    """Add a supply, with the molds it is for."""
    require(doing.person, Right.EDIT_MOLDS)
    values = {"number": number, "name": name, **fields}

    def do() -> dict[str, Any]:
        row = Supply()
        fill(row, values=values, allowed=SUPPLY_FIELDS)
        add_record(row)
        row.molds.set(molds)
        return _write(doing, chain=plant_chain(), kind="supply", row=row, fields=SUPPLY_FIELDS)

    body = {**values, "molds": [mold.pk for mold in molds]}
    return Written.read(once(doing, "add_supply", body, do))


def edit_supply(
    doing: Doing,
    *,
    supply: Supply,
    changes: Mapping[str, Any],
    molds: Sequence[Mold] | None = None,
) -> Written:
    """Change a supply; `molds`, where given, are all the molds it is for."""
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        held = _lock_supply(supply)
        old = sorted(mold.number for mold in held.molds.all())
        new = old if molds is None else sorted(mold.number for mold in molds)
        before: dict[str, Any] = {}
        after: dict[str, Any] = {}
        wanted = {name: fact_value(value) for name, value in changes.items()}
        if new == old or any(getattr(held, name, None) != wanted[name] for name in wanted):
            before, after = change_record(held, changes=changes, allowed=SUPPLY_FIELDS)
        if new != old:
            held.molds.set(molds or ())
            before["molds"], after["molds"] = ", ".join(old), ", ".join(new)
        return _write(
            doing, chain=plant_chain(), kind="supply", row=held, before=before, after=after
        )

    body = {
        "supply": supply,
        "changes": changes,
        "molds": None if molds is None else [mold.pk for mold in molds],
    }
    return Written.read(once(doing, "edit_supply", body, do))


def withdraw_supply(doing: Doing, *, supply: Supply, reason: str) -> Written:
    """Take a supply off the list; what was used of it stays in the logbook."""
    require(doing.person, Right.EDIT_MOLDS)

    def do() -> dict[str, Any]:
        held = _lock_supply(supply)
        words = reason_given(reason)
        said = f"Supply {held} withdrawn."
        return _withdraw(doing, held, chain=plant_chain(), kind="supply", said=said, reason=words)

    body = {"supply": supply, "reason": reason}
    return Written.read(once(doing, "withdraw_supply", body, do))


def _write(
    doing: Doing,
    *,
    chain: Chain,
    kind: str,
    row: models.Model,
    fields: tuple[str, ...] = (),
    before: Mapping[str, Any] | None = None,
    after: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """Append the entry of an addition (`fields`) or a change (`before`, `after`)."""
    name = f"{kind.capitalize()} {row}"
    if before is None or after is None:
        sentence, what = f"{name} added.", "added"
        facts: Mapping[str, Any] = record_facts(row, fields=fields)
    else:
        said = change_words(before, after=after, of=row)
        sentence, what = f"{name} changed: {said}.", "edited"
        facts = {kind: str(row), "before": before, "after": after}
    entry = append_entry(
        chain,
        kind=f"{kind}_{what}",
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
        sentence=sentence,
        facts=facts,
    )
    return answer_of(row, entry=entry)


def _withdraw(
    doing: Doing,
    row: Owner | Auxiliary | Supply,
    *,
    chain: Chain,
    kind: str,
    said: str,
    reason: str,
) -> dict[str, Any]:
    """Withdraw a locked record from now on; append the entry that says why."""
    row.withdrawn_at = doing.now
    row.save(update_fields=["withdrawn_at"])
    entry = append_entry(
        chain,
        kind=f"{kind}_withdrawn",
        happened_at=doing.now,
        written_at=doing.now,
        author=doing.person,
        sentence=f"{said} {sentence_end(reason)}",
        facts={kind: str(row), "reason": reason},
    )
    return answer_of(row, entry=entry)


def _lock_owner(owner: Owner) -> Owner:
    held = Owner.objects.select_for_update(no_key=True).filter(pk=owner.pk).first()
    if held is None or held.withdrawn_at is not None:
        raise NotFound(
            _("Owner %(name)s was withdrawn; nothing was written.") % {"name": owner.name}
        )
    return held


def _lock_supply(supply: Supply) -> Supply:
    held = Supply.objects.select_for_update(no_key=True).filter(pk=supply.pk).first()
    if held is None or held.withdrawn_at is not None:
        raise NotFound(
            _("Supply %(number)s was withdrawn; nothing was written.") % {"number": supply.number}
        )
    return held


def _lock_auxiliary(auxiliary: Auxiliary) -> Auxiliary:
    held = Auxiliary.objects.select_for_update(no_key=True).filter(pk=auxiliary.pk).first()
    if held is None or held.withdrawn_at is not None:
        raise NotFound(
            _("Auxiliary %(number)s was withdrawn; nothing was written.")
            % {"number": auxiliary.number}
        )
    return held


def _refuse_same_owner(row: Owner) -> None:
    """Compare by key in here: databases differ in what upper and lower case is."""
    others = owners_in_use().exclude(pk=row.pk).values_list("name", flat=True)
    if name_key(row.name) in {name_key(name) for name in others}:
        raise DoesNotFit(_("There is an owner %(name)s already.") % {"name": row.name})


def _refuse_same_auxiliary(row: Auxiliary) -> None:
    others = Auxiliary.objects.filter(withdrawn_at__isnull=True, number_key=row.number_key)
    if others.exclude(pk=row.pk).exists():
        raise DoesNotFit(
            _("There is an auxiliary with this number already: %(number)s.")
            % {"number": row.number}
        )
