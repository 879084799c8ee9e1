"""Lists of what molds are made of: positions with what sits in them, cavities, configurations."""

from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from moldcare.feeds.export.shapes import Asked, Column, ListShape, Queried
from moldcare.molds.models import Block, Cavity, Configuration, Fitting, Position

_BY_MOLD = ("mold__sort_key", "mold__number", "pk")


def _positions(_asked: Asked) -> QuerySet[Any]:
    # a component that moved on is in the position it came to, and not in this one
    later = Fitting.objects.filter(component=OuterRef("component")).filter(
        Q(at__gt=OuterRef("at")) | Q(at=OuterRef("at"), pk__gt=OuterRef("pk"))
    )
    here = Fitting.objects.filter(~Exists(later), position=OuterRef("pk")).order_by("-at", "-id")
    return Position.objects.order_by(*_BY_MOLD).annotate(
        component_serial=Subquery(here.values("component__serial")[:1]),
        component_name=Subquery(here.values("component__name")[:1]),
        since_at=Subquery(here.values("at")[:1]),
    )


def _cavities(_asked: Asked) -> QuerySet[Any]:
    newest = Block.objects.filter(cavity=OuterRef("pk")).order_by("-at", "-id")
    return Cavity.objects.order_by(*_BY_MOLD).annotate(
        is_blocked=Coalesce(Subquery(newest.values("is_blocked")[:1]), Value(value=False)),
        since_at=Subquery(newest.values("at")[:1]),
        why=Subquery(newest.values("reason")[:1]),
    )


_POSITIONS = Queried(
    query=_positions,
    columns=(
        Column(heading=_("Mold"), path="mold__number"),
        Column(heading=_("Position"), path="ident"),
        Column(heading=_("Name"), path="name"),
        Column(heading=_("Forms the part"), path="is_forming"),
        Column(heading=_("Cavity"), path="cavity__ident"),
        Column(heading=_("Serial number in it"), path="component_serial"),
        Column(heading=_("Component in it"), path="component_name"),
        Column(heading=_("There since"), path="since_at"),
    ),
)
_CAVITIES = Queried(
    query=_cavities,
    columns=(
        Column(heading=_("Mold"), path="mold__number"),
        Column(heading=_("Cavity"), path="ident"),
        Column(heading=_("Part"), path="part"),
        Column(heading=_("Blocked"), path="is_blocked"),
        Column(heading=_("Blocked or freed"), path="since_at"),
        Column(heading=_("Why"), path="why"),
    ),
)
_CONFIGURATIONS = Queried(
    query=lambda _asked: Configuration.objects.order_by(*_BY_MOLD),
    columns=(
        Column(heading=_("Mold"), path="mold__number"),
        Column(heading=_("Configuration"), path="name"),
    ),
)

PART_LISTS = (
    ListShape(
        name="positions",
        title=_("Positions"),
        about=_("The places of all molds where components sit, and what sits there."),
        headings=_POSITIONS.headings,
        rows=_POSITIONS,
    ),
    ListShape(
        name="cavities",
        title=_("Cavities"),
        about=_("The cavities of all molds, and which of them are blocked."),
        headings=_CAVITIES.headings,
        rows=_CAVITIES,
    ),
    ListShape(
        name="configurations",
        title=_("Configurations"),
        about=_("The named versions in which molds run."),
        headings=_CONFIGURATIONS.headings,
        rows=_CONFIGURATIONS,
    ),
)
