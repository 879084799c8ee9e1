"""Lists of what is to be done, what was done and what happened."""

from collections.abc import Iterator
from typing import Any

from django.db.models import Count, Q, QuerySet
from django.utils.translation import gettext_lazy as _

from moldcare.care.models import Completion, Grade
from moldcare.feeds.export.shapes import (
    ROWS_AT_ONCE,
    Asked,
    Column,
    ListShape,
    Queried,
    Row,
    labels,
)
from moldcare.logbook.models import ChainKind, Entry, EntryMeaning
from moldcare.molds.models import Run
from moldcare.production.models import Defect, Interruption, Mechanism
from moldcare.work.models import Order, OrderTaskOutcome


def _orders(asked: Asked) -> Iterator[Row]:
    done, left = Q(tasks__outcome=OrderTaskOutcome.DONE), Q(tasks__outcome=OrderTaskOutcome.LEFT)
    orders = (
        Order.objects.filter(asked.within("written_at"))
        .select_related("mold", "auxiliary", "written_by")
        .prefetch_related("people")
        .annotate(
            tasks_n=Count("tasks"),
            done_n=Count("tasks", filter=done),
            left_n=Count("tasks", filter=left),
        )
        .order_by("number")
    )
    for order in orders.iterator(ROWS_AT_ONCE):
        extra: Any = order
        yield (
            order.number,
            order.mold.number if order.mold else None,
            order.auxiliary.number if order.auxiliary else None,
            str(order.state.label),
            order.planned_at,
            ", ".join(sorted(person.name for person in order.people.all())),
            extra.tasks_n,
            extra.done_n,
            extra.left_n,
            order.minutes,
            order.held_up_by,
            order.note,
            order.written_by.name,
            order.written_at,
            order.handed_out_at,
            order.begun_at,
            order.signed_at,
            order.struck_out_at,
            order.struck_out_reason,
        )


_COMPLETIONS = Queried(
    query=lambda asked: Completion.objects.filter(asked.within("written_at")).order_by("id"),
    columns=(
        Column(heading=_("Mold"), path="rule__mold__number"),
        Column(heading=_("Auxiliary"), path="rule__auxiliary__number"),
        Column(heading=_("Task"), path="rule__name"),
        Column(heading=_("Family"), path="rule__family__name"),
        Column(heading=_("Done"), path="happened_at"),
        Column(heading=_("Said to be done on"), path="declared_on"),
        Column(heading=_("Said to be done at count"), path="declared_count"),
        Column(heading=_("As found"), path="grade", words=labels(Grade)),
        Column(heading=_("Brought forward"), path="is_brought_forward"),
        Column(heading=_("Found not needed"), path="is_not_needed"),
        Column(heading=_("Minutes"), path="minutes"),
        Column(heading=_("Order"), path="order_number"),
        Column(heading=_("Done by"), path="person__name"),
        Column(heading=_("Entry"), path="entry__number"),
        Column(heading=_("Taken back"), path="taken_back__written_at"),
        Column(heading=_("Why taken back"), path="taken_back__reason"),
        Column(heading=_("Written"), path="written_at"),
    ),
)
_ENTRIES = Queried(
    query=lambda asked: Entry.objects.filter(asked.within("written_at")).order_by(
        "chain__kind", "chain__label", "number"
    ),
    columns=(
        Column(heading=_("Chain of"), path="chain__kind", words=labels(ChainKind)),
        Column(heading=_("Chain"), path="chain__label"),
        Column(heading=_("Entry"), path="number"),
        Column(heading=_("Kind"), path="kind"),
        Column(heading=_("Happened"), path="happened_at"),
        Column(heading=_("Written"), path="written_at"),
        Column(heading=_("Written by"), path="author_name"),
        Column(heading=_("Signed as"), path="meaning", words=labels(EntryMeaning)),
        Column(heading=_("What was written"), path="sentence"),
        Column(heading=_("Corrects entry"), path="corrects__number"),
        Column(heading=_("Hash"), path="hash"),
    ),
)
_INTERRUPTIONS = Queried(
    query=lambda asked: Interruption.objects.filter(asked.within("from_at")).order_by(
        "from_at", "id"
    ),
    columns=(
        Column(heading=_("Mold"), path="mold__number"),
        Column(heading=_("Press"), path="press__number"),
        Column(heading=_("From"), path=("end__from_at", "from_at")),
        Column(heading=_("To"), path=("end__to_at", "to_at")),
        Column(heading=_("Waiting in min"), path=("end__waiting_min", "waiting_min")),
        Column(heading=_("Repair in min"), path=("end__repair_min", "repair_min")),
        Column(heading=_("Fault on the part"), path="defect", words=labels(Defect)),
        Column(heading=_("Finding"), path="finding"),
        Column(heading=_("Position"), path="position"),
        Column(
            heading=_("How it came about"),
            path=("end__mechanism", "mechanism"),
            words=labels(Mechanism),
        ),
        Column(heading=_("Cause"), path=("end__cause", "cause")),
        Column(heading=_("What was done"), path=("end__action", "action")),
        Column(heading=_("As found"), path="grade", words=labels(Grade)),
        Column(heading=_("Scrap in pieces"), path=("end__scrap_pieces", "scrap_pieces")),
        Column(heading=_("Reported by"), path="person__name"),
        Column(heading=_("Written"), path="written_at"),
    ),
)


def _runs(asked: Asked) -> QuerySet[Run]:
    is_ahead = Q(planned_to__isnull=True) | Q(planned_to__gt=asked.now)
    return Run.objects.filter(is_ahead, is_called_off=False).order_by("planned_from", "pk")


_RUNS = Queried(
    query=_runs,
    columns=(
        Column(heading=_("Mold"), path="mold__number"),
        Column(heading=_("Press"), path="press__number"),
        Column(heading=_("Planned from"), path="planned_from"),
        Column(heading=_("Planned end"), path="planned_to"),
        Column(heading=_("Planned cycles"), path="planned_cycles"),
    ),
)

WORK_LISTS = (
    ListShape(
        name="orders",
        title=_("Work orders"),
        about=_("By when they were written: for what, for whom, what became of them."),
        headings=(
            _("Order"),
            _("Mold"),
            _("Auxiliary"),
            _("State"),
            _("Planned for"),
            _("For"),
            _("Tasks"),
            _("Tasks done"),
            _("Tasks left"),
            _("Minutes"),
            _("Held up by"),
            _("Note"),
            _("Written by"),
            _("Written"),
            _("Handed out"),
            _("Begun"),
            _("Signed"),
            _("Struck out"),
            _("Why struck out"),
        ),
        rows=_orders,
        is_long=True,
    ),
    ListShape(
        name="completions",
        title=_("Work done"),
        about=_("Every task that was done, by when it was written down."),
        headings=_COMPLETIONS.headings,
        rows=_COMPLETIONS,
        is_long=True,
    ),
    ListShape(
        name="interruptions",
        title=_("Interruptions"),
        about=_("By when the run stopped: finding, cause, action, minutes and scrap."),
        headings=_INTERRUPTIONS.headings,
        rows=_INTERRUPTIONS,
        is_long=True,
    ),
    ListShape(
        name="entries",
        title=_("Logbook"),
        about=_("Entries of all chains by when they were written, with their hashes."),
        headings=_ENTRIES.headings,
        rows=_ENTRIES,
        is_long=True,
    ),
    ListShape(
        name="runs",
        title=_("Planned runs"),
        about=_("Which mold runs now or will run, when and in which press."),
        headings=_RUNS.headings,
        rows=_RUNS,
    ),
)
