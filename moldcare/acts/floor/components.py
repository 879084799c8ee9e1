"""Fitting components in positions, and taking them out."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from moldcare.acts.answers import Written, answer_of
from moldcare.acts.doing import Doing, check_happened, once
from moldcare.acts.errors import DoesNotFit
from moldcare.acts.locks import lock_mold
from moldcare.acts.refresh import refresh_care
from moldcare.acts.rights import Right, require
from moldcare.acts.words import local_words, sentence_end, tidy
from moldcare.care.models import CareRule, Completion
from moldcare.logbook.append import append_entry
from moldcare.logbook.models import Entry
from moldcare.molds.models import Component, Fitting, Position
from moldcare.molds.queries import component_in, position_of
from moldcare.plant.models import Plant
from moldcare.plant.queries import the_plant


@dataclass(frozen=True, kw_only=True, slots=True)
class ComponentFitted(Written):
    """A component was fitted, and the names of the change rules that this completed."""

    completed: list[str]


def fit_component(
    doing: Doing,
    *,
    component: Component,
    position: Position,
    at: datetime,
    taken_out_at: datetime | None = None,
    note: str = "",
) -> ComponentFitted:
    """Fit a component in a position; a new one completes the position's change rules.

    With `taken_out_at` it was taken out again: a fitting that is over and that nobody entered.

    Raises
    ------
    DoesNotFit
        If the position is filled or the component sits elsewhere, at that time or later.
    """
    require(doing.person, Right.MOVE_MOLDS)

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(taken_out_at or at, doing=doing, plant=plant)
        if taken_out_at is not None and taken_out_at <= at:
            raise DoesNotFit(_("It was taken out before it was fitted. Check the two times."))
        mold = lock_mold(position.mold)
        piece = Component.objects.select_for_update(no_key=True).get(pk=component.pk)
        _refuse_unless_free(piece, position=position, from_at=at, to_at=taken_out_at, plant=plant)
        rules = change_rules(position, component=piece)
        words = tidy(note)
        names = [rule.name for rule in rules]
        sentence = f"{piece.name} {piece.serial} fitted in position {position.ident}"
        sentence += f"; completes {', '.join(names)}." if names else "."
        entry = append_entry(
            mold.chain,
            kind="component_fitted",
            happened_at=at,
            written_at=doing.now,
            author=doing.person,
            sentence=f"{sentence} {sentence_end(words)}" if words else sentence,
            facts={
                **_facts(piece, position=position),
                "completes": [{"rule": rule.pk, "name": rule.name} for rule in rules],
                "note": words,
            },
        )
        row = _fit(doing, component=piece, position=position, at=at, entry=entry)
        complete_change_rules(doing, rules=rules, component=piece, at=at, entry=entry)
        if taken_out_at is not None:
            _take_out(doing, component=piece, position=position, at=taken_out_at, note="")
        refresh_care(molds=[mold.pk])
        return answer_of(row, entry=entry, completed=names)

    body = {
        "component": component,
        "position": position,
        "at": at,
        "taken_out_at": taken_out_at,
        "note": note,
    }
    return ComponentFitted.read(once(doing, "fit_component", body, do))


def take_out_component(
    doing: Doing, *, component: Component, at: datetime, note: str = ""
) -> Written:
    """Take a component out of the position it sits in, to the shelf.

    Raises
    ------
    DoesNotFit
        If it sits in no position at that time, or was moved later.
    """
    require(doing.person, Right.MOVE_MOLDS)

    def do() -> dict[str, Any]:
        plant = the_plant()
        check_happened(at, doing=doing, plant=plant)
        sits = position_of(component, at=at)
        if sits is None or sits.position is None or sits.at == at:
            raise DoesNotFit(
                _("%(component)s sits in no position then. Enter where it was fitted first.")
                % {"component": component}
            )
        mold = lock_mold(sits.position.mold)
        piece = Component.objects.select_for_update(no_key=True).get(pk=component.pk)
        newest = position_of(piece)
        if newest is None or newest.pk != sits.pk:
            raise DoesNotFit(
                _("%(component)s was moved later, on %(at)s. Correct that entry if it is wrong.")
                % {
                    "component": piece,
                    "at": local_words(newest.at if newest else at, plant=plant),
                }
            )
        row, entry = _take_out(doing, component=piece, position=sits.position, at=at, note=note)
        refresh_care(molds=[mold.pk])
        return answer_of(row, entry=entry)

    body = {"component": component, "at": at, "note": note}
    return Written.read(once(doing, "take_out_component", body, do))


def change_rules(position: Position, *, component: Component) -> list[CareRule]:
    """Return the rules that fitting this component completes: none unless it never sat anywhere.

    A piece that ran before, here or before our records, is not a new one.
    """
    ran = component.opening_cycles or component.opening_shots
    if ran or Fitting.objects.filter(component=component).exists():
        return []
    return list(
        CareRule.objects.filter(
            position=position, changes_component=True, withdrawn_at__isnull=True
        ).order_by("id")
    )


def complete_change_rules(
    doing: Doing, *, rules: list[CareRule], component: Component, at: datetime, entry: Entry
) -> None:
    """Complete the rules that a new component completes, backed by the fitting's own entry."""
    for rule in rules:
        Completion.objects.create(
            rule=rule,
            happened_at=at,
            component_id=component.pk,
            person=doing.person,
            entry=entry,
            written_at=doing.now,
        )


def _refuse_unless_free(
    component: Component,
    *,
    position: Position,
    from_at: datetime,
    to_at: datetime | None,
    plant: Plant,
) -> None:
    """Raise DoesNotFit unless one component comes to one position, from one time to the other."""
    sits = position_of(component, at=from_at)
    if sits is not None and sits.position is not None:
        raise DoesNotFit(
            _("%(component)s is in %(position)s since %(at)s. Take it out first.")
            % {
                "component": component,
                "position": sits.position,
                "at": local_words(sits.at, plant=plant),
            }
        )
    if sits is not None and sits.at == from_at:
        raise DoesNotFit(
            _("%(component)s was taken out at this very time, %(at)s. Enter a later one.")
            % {"component": component, "at": local_words(sits.at, plant=plant)}
        )
    occupant = component_in(position, at=from_at)
    if occupant is not None:
        raise DoesNotFit(
            _("%(occupant)s sits in position %(position)s. Take it out first.")
            % {"occupant": occupant, "position": position.ident}
        )
    later = Fitting.objects.filter(at__gte=from_at).order_by("at", "id")
    if to_at is not None:
        later = later.filter(at__lt=to_at)
    following = later.filter(component=component).first() or later.filter(position=position).first()
    if following is not None:
        raise DoesNotFit(
            _(
                "%(what)s has a later entry of %(at)s. If this fitting was over by then, give the "
                "time it was taken out."
            )
            % {
                "what": component if following.component_id == component.pk else position,
                "at": local_words(following.at, plant=plant),
            }
        )


def _take_out(
    doing: Doing, *, component: Component, position: Position, at: datetime, note: str
) -> tuple[Fitting, Entry]:
    words = tidy(note)
    sentence = f"{component.name} {component.serial} taken out of position {position.ident}."
    entry = append_entry(
        position.mold.chain,
        kind="component_taken_out",
        happened_at=at,
        written_at=doing.now,
        author=doing.person,
        sentence=f"{sentence} {sentence_end(words)}" if words else sentence,
        facts={**_facts(component, position=position), "note": words},
    )
    return _fit(doing, component=component, position=None, at=at, entry=entry), entry


def _fit(
    doing: Doing, *, component: Component, position: Position | None, at: datetime, entry: Entry
) -> Fitting:
    return Fitting.objects.create(
        component=component,
        position=position,
        at=at,
        person=doing.person,
        entry=entry,
        written_at=doing.now,
    )


def _facts(component: Component, *, position: Position) -> dict[str, object]:
    return {
        "mold": position.mold.number,
        "position": position.ident,
        "component": {
            "id": component.pk,
            "serial": component.serial,
            "name": component.name,
        },
    }
