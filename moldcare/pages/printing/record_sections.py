"""The subjects of a mold's record, each read and said."""

from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import datetime

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.care.models import CareRule, Completion, Standing
from moldcare.core.shifts import ShiftCalendar
from moldcare.counters.history import component_courses
from moldcare.counters.models import Life, LifeSegment
from moldcare.logbook.models import Entry
from moldcare.molds.convert import run_spans_of
from moldcare.molds.models import Mold, Move, Position, RunEvent
from moldcare.molds.queries import (
    components_in,
    marking_of,
    modifications_of,
    moves_in_force,
    stays,
)
from moldcare.pages.molds.words import target_words
from moldcare.pages.printing.saying import Saying
from moldcare.pages.rule_lines import RuleLine, rule_line
from moldcare.paper.mold_record import DueState, Section
from moldcare.paper.mold_record import RuleLine as PrintedRule
from moldcare.plant.models import Spot
from moldcare.plant.queries import qualifications_on
from moldcare.work.queries import ORDER_ENTRY

SERVICES, RUNS, STAYS, MODIFICATIONS, PARTS, SUPPLIES, RULES = 3, 2, 3, 6, 40, 20, 60
LONGEST_SENTENCE = 200


def spot_words(spot: Spot) -> str:
    """Return a place with its name."""
    said = f"{spot.get_kind_display()} {spot.number}"
    return f"{said}, {spot.name}" if spot.name else said


def _shortened(text: str) -> str:
    return text if len(text) <= LONGEST_SENTENCE else f"{text[: LONGEST_SENTENCE - 1].rstrip()}…"


def _in_logbook(all_count: int, *, shown: int) -> str:
    left = all_count - shown
    if left <= 0:
        return ""
    return ngettext(
        "%(n)d older one is in the logbook.", "%(n)d older ones are in the logbook.", left
    ) % {"n": left}


def life_section(mold: Mold, *, life: Life | None, say: Saying) -> Section:
    """Say the life count, and how well it is known."""
    lines = []
    if life is None or life.newest_at is None:
        lines.append((_("Not known from readings yet."), ""))
    else:
        total = say.count(life.cycles, unit=_("cycles"))
        if life.has_dry_cycles:
            total += f", {say.count(life.shots, unit=_('shots'))}"
        lines.append((total, _("as of %(when)s.") % {"when": say.moment(life.newest_at)}))
    opening = say.count(mold.opening_count, unit=_("cycles"))
    said = _("%(count)s of them before our records, true as of %(when)s, on the word of %(who)s.")
    lines.append(
        (
            _("Opening count:"),
            said
            % {
                "count": opening,
                "when": say.day_of(mold.opening_at),
                "who": mold.opening_source or _("nobody who was named"),
            },
        )
    )
    lines.append((_("How well it is known:"), _known_words(mold, life=life, say=say)))
    return Section(title=_("marking, life count"), lines=lines)


def _known_words(mold: Mold, *, life: Life | None, say: Saying) -> str:
    if life is None:
        return _("no reading was taken.")
    counted = max(0, life.cycles - mold.opening_count)
    estimated = estimated_cycles(mold, life=life)
    said = []
    if counted:
        share = round(100 * estimated / counted)
        said.append(
            _("%(percent)d %% of what was counted since then is estimated (%(cycles)s).")
            % {"percent": share, "cycles": say.count(estimated, unit=_("cycles"))}
        )
    if life.held_count:
        said.append(
            ngettext("%(n)d reading is held.", "%(n)d readings are held.", life.held_count)
            % {"n": life.held_count}
        )
    else:
        said.append(_("No reading is held."))
    if life.is_unsure:
        said.append(_("A part of it is unsure."))
    return " ".join(said)


def estimated_cycles(mold: Mold, *, life: Life) -> int:
    """Return how many cycles of a mold's life come from estimates."""
    segments = list(LifeSegment.objects.filter(mold=mold).order_by("from_at"))
    ends = [segment.cycles_before for segment in segments[1:]] + [life.cycles]
    return sum(
        max(0, end - segment.cycles_before)
        for segment, end in zip(segments, ends, strict=True)
        if segment.is_estimated
    )


def printed_rules(
    mold: Mold, *, at: datetime, calendar: ShiftCalendar, say: Saying
) -> tuple[list[PrintedRule], str]:
    """Return all rules in force as they stand, and what is said of those that are not listed."""
    rows = Standing.objects.filter(mold=mold, rule__withdrawn_at__isnull=True)
    rows = rows.select_related(
        "rule__family", "rule__position", "rule__circuit", "last_completion__person"
    ).order_by("rule_id")
    found = [_printed_rule(row, at=at, calendar=calendar, say=say) for row in rows[: RULES + 1]]
    if len(found) <= RULES:
        return found, ""
    return found[:RULES], _("More rules are on the mold's page.")


def rules_words(rules: Sequence[PrintedRule]) -> str:
    """Return how many rules there are, and how many of them are in which state."""
    if not rules:
        return _("No care rule is in force.")
    states = Counter(rule.state_text for rule in rules)
    said = ngettext("%(n)d rule in force", "%(n)d rules in force", len(rules)) % {"n": len(rules)}
    parts = ", ".join(f"{count} {state}" for state, count in states.items())
    return _("%(rules)s: %(states)s. At the right: last done, by whom, as found.") % {
        "rules": said,
        "states": parts,
    }


def _printed_rule(
    row: Standing, *, at: datetime, calendar: ShiftCalendar, say: Saying
) -> PrintedRule:
    line = rule_line(row, at=at, calendar=calendar)
    return PrintedRule(
        name=f"{_titled(row.rule)}.",
        state=DueState(line.state.value),
        state_text=_state(line),
        said=line.say,
        last_done=_last_done(row.last_completion, say=say),
    )


def _state(line: RuleLine) -> str:
    return {
        "not_due": _("not due"),
        "waiting": _("waiting"),
        "due_soon": _("due soon"),
        "unsure": _("unsure"),
        "deferred": _("deferred"),
        "due": _("due"),
        "overdue": _("overdue"),
        "past_limit": _("past limit"),
    }[line.state.value]


def _titled(rule: CareRule) -> str:
    target = target_words(rule)
    return f"{rule.name} ({target})" if target else rule.name


def _last_done(done: Completion | None, *, say: Saying) -> str:
    if done is None:
        return _("never done here")
    if done.happened_at is not None:
        said = f"{say.day_of(done.happened_at)}, {done.person.name}"
    elif done.declared_on is not None:
        said = _("%(when)s, as was declared") % {"when": say.day(done.declared_on)}
    else:
        said = _("at %(count)s, as was declared") % {"count": say.count(done.declared_count or 0)}
    if done.grade:
        said += f", {done.get_grade_display()}"
    return said


def services_section(mold: Mold, *, say: Saying) -> Section:
    """Say the last signed orders: when, who, and what was done."""
    entries = Entry.objects.filter(chain=mold.chain_id, kind=ORDER_ENTRY)
    rows = list(entries.order_by("-number")[:SERVICES])
    moves = list(moves_in_force().filter(mold=mold).select_related("spot").order_by("at", "id"))
    lines = [
        (
            f"{say.day_of(row.happened_at)}, {row.author_name}{_where(moves, at=row.happened_at)}:",
            _shortened(row.sentence),
        )
        for row in rows
    ]
    return Section(
        title=_("services"),
        lines=lines or [("", _("No signed order yet."))],
        more=_in_logbook(entries.count(), shown=len(rows)),
    )


def _where(moves: Iterable[Move], *, at: datetime) -> str:
    spot = None
    for move in moves:
        if move.at > at:
            break
        spot = move.spot
    return f", {spot.get_kind_display()} {spot.number}" if spot else ""


def people_section(mold: Mold, *, at: datetime, say: Saying) -> Section:
    """Say where care is done, which qualifications it asks for, and who has them."""
    rules = CareRule.objects.filter(mold=mold, withdrawn_at__isnull=True)
    subjects = sorted(set(rules.exclude(qualification="").values_list("qualification", flat=True)))
    places = dict.fromkeys(str(rule.get_where_done_display()) for rule in rules.order_by("id"))
    lines = []
    if places:
        lines.append((_("Care is done:"), f"{', '.join(places)}."))
    on = at.astimezone(say.zone).date()
    holders: dict[str, list[str]] = {}
    for row in qualifications_on(on):
        if row.ends_on is None or row.ends_on >= on:
            holders.setdefault(row.subject, []).append(row.person.name)
    for subject in subjects:
        names = ", ".join(holders.get(subject, ())) or _("nobody at present")
        lines.append((f"{subject}:", names))
    if not subjects:
        lines.append(("", _("Its rules ask for no qualification.")))
    return Section(title=_("people"), lines=lines)


def set_up_section(mold: Mold, *, say: Saying) -> Section:
    """Say when it was set and pulled last, in which press, and by whom."""
    events = RunEvent.objects.filter(mold=mold).select_related("press", "person", "run")
    newest = list(events.order_by("-at", "-id")[: 2 * RUNS])
    spans = list(reversed(run_spans_of(reversed(newest))))[:RUNS]
    lines = []
    for span in spans:
        said = _("set %(when)s by %(who)s") % {
            "when": say.moment(span.set.at),
            "who": span.set.person.name,
        }
        if span.pulled is not None:
            said += _(", pulled %(when)s by %(who)s") % {
                "when": say.moment(span.pulled.at),
                "who": span.pulled.person.name,
            }
        lines.append((f"{spot_words(span.set.press)}:", f"{said}."))
    return Section(title=_("set-up"), lines=lines or [("", _("Not set in a press yet."))])


def storage_section(mold: Mold, *, say: Saying) -> Section:
    """Say where it was kept, and since when it was back."""
    spans = list(reversed(stays(mold)))
    lines = []
    for stay in spans[:STAYS]:
        said = say.since(stay.from_at)
        if stay.to_at is not None:
            said = _("%(from)s to %(to)s") % {
                "from": say.moment(stay.from_at),
                "to": say.moment(stay.to_at),
            }
        lines.append((f"{spot_words(stay.spot)}:", f"{said}."))
    return Section(
        title=_("storage"),
        lines=lines or [("", _("Its place was never written down."))],
        more=_in_logbook(len(spans), shown=min(len(spans), STAYS)),
    )


def change_plan_section(mold: Mold, *, at: datetime, calendar: ShiftCalendar) -> Section:
    """Say when wearing parts are changed: rules on positions, and those that fit a new part."""
    rows = Standing.objects.filter(mold=mold, rule__withdrawn_at__isnull=True)
    rows = rows.select_related("rule__family", "rule__position", "rule__circuit")
    lines = [
        (f"{_titled(row.rule)}:", rule_line(row, at=at, calendar=calendar).say)
        for row in rows.order_by("rule_id")
        if row.rule.changes_component or row.rule.position_id is not None
    ]
    return Section(
        title=_("wearing parts"),
        lines=lines[:PARTS] or [("", _("No rule plans the change of a wearing part."))],
    )


def modifications_section(mold: Mold, *, say: Saying) -> Section:
    """Say the revision of the drawing and how the mold was changed."""
    revision = mold.drawing_revision or _("not entered")
    rows = list(modifications_of(mold)[:MODIFICATIONS])
    lines = [(_("Drawing revision:"), revision)]
    lines += [
        (f"{say.day_of(row.happened_at)}, {row.author_name}:", _shortened(row.sentence))
        for row in rows
    ]
    if not rows:
        lines.append(("", _("No modification was written down.")))
    more = _in_logbook(modifications_of(mold).count(), shown=len(rows))
    return Section(title=_("changes"), lines=lines, more=more)


def parts_section(mold: Mold, *, say: Saying) -> Section:
    """Say what sits in its positions, with the counts of each piece."""
    positions = list(Position.objects.filter(mold=mold).order_by("id"))
    filled = components_in([position.pk for position in positions])
    courses = component_courses([piece.pk for piece in filled.values()]) if filled else {}
    lines = []
    for position in positions[:PARTS]:
        piece = filled.get(position.pk)
        said = _("empty")
        if piece is not None:
            said = f"{piece.name} {piece.serial}"
            course = courses.get(piece.pk)
            if course is not None:
                said += f", {say.count(course.cycles.newest_count or 0, unit=_('cycles'))}"
        lines.append(f"{position.ident}: {said}")
    left = len(positions) - PARTS
    more = _("%(n)d more are on the mold's page.") % {"n": left} if left > 0 else ""
    return Section(
        title=_("parts in it"),
        lines=[("", "; ".join(lines) or _("no position is entered"))],
        more=more,
    )


def supplies_section(mold: Mold, *, say: Saying) -> Section:
    """Say which spare parts and supplies are kept for it, and where."""
    rows = list(mold.supplies.filter(withdrawn_at__isnull=True).order_by("number"))
    lines = []
    for row in rows[:SUPPLIES]:
        said = _("at least %(minimum)s kept") % {
            "minimum": say.quantity(row.minimum, unit=row.unit)
        }
        if row.place:
            said += f", {row.place}"
        lines.append((f"{row.number} {row.name}:", f"{said}."))
    left = len(rows) - SUPPLIES
    more = _("%(n)d more are in the setup.") % {"n": left} if left > 0 else ""
    return Section(
        title=_("spare parts"),
        lines=lines or [("", _("None are entered for it."))],
        more=more,
    )


def marking_words(mold: Mold, *, say: Saying) -> tuple[str, str]:
    """Return how it is marked, and the hash of the photo of its plate; empty where there is none.

    A customer's mold has to be marked as such, for good and to be seen: the words say what the
    photo shows, or that there is none.
    """
    marking = marking_of(mold)
    if marking is None:
        return _("No photo of its plate and marking yet."), ""
    said = _("Photo of %(when)s by %(who)s.") % {
        "when": say.day_of(marking.at),
        "who": marking.person.name,
    }
    if marking.shows:
        said += " " + _("It shows: %(what)s.") % {"what": marking.shows.rstrip(".")}
    return said, marking.file.sha256
