"""What a column of any table that comes in can mean."""

from enum import StrEnum

from django.utils.translation import gettext_lazy as _


class Meaning(StrEnum):
    """What a column can mean; `Vocabulary` says which of these a kind of table has.

    `AT` holds date and time together. `MASS` is that of both halves. `INTERVAL` may be by count
    or by calendar, `PERIOD` is by calendar alone. `CARE` is a column that is headed by a task:
    its interval, or when it was last done. `REST` is a column that is left alone.
    """

    MOLD = "mold"
    COUNTER = "counter"
    AT = "at"
    DATE = "date"
    TIME = "time"
    VALUE = "value"
    PRESS = "press"
    NOTE = "note"
    REPORTED_BY = "reported_by"
    ESTIMATED = "estimated"
    NAME = "name"
    MOLD_CLASS = "mold_class"
    CAVITY_COUNT = "cavity_count"
    HALF = "half"
    MASS_A = "mass_a"
    MASS_B = "mass_b"
    MASS = "mass"
    OWNER = "owner"
    RESIN = "resin"
    RESIN_GROUP = "resin_group"
    FILLER = "filler"
    FINISH = "finish"
    CYCLE_TIME = "cycle_time"
    STORAGE_PLACE = "storage_place"
    CIRCUITS = "circuits"
    BORE = "bore"
    LENGTH = "length"
    OPENING_COUNT = "opening_count"
    OPENING_AT = "opening_at"
    DRAWING_REVISION = "drawing_revision"
    TASK = "task"
    INTERVAL = "interval"
    COUNT_INTERVAL = "count_interval"
    PERIOD = "period"
    INTERVAL_UNIT = "interval_unit"
    LAST_DONE = "last_done"
    LAST_COUNT = "last_count"
    CARE = "care"
    REST = "rest"

    @property
    def words(self) -> str:
        """What it is called, for people."""
        return str(_WORDS[self])


_WORDS = {
    Meaning.MOLD: _("mold"),
    Meaning.COUNTER: _("counter"),
    Meaning.AT: _("date and time"),
    Meaning.DATE: _("date"),
    Meaning.TIME: _("time of day"),
    Meaning.VALUE: _("reading"),
    Meaning.PRESS: _("press"),
    Meaning.NOTE: _("note"),
    Meaning.REPORTED_BY: _("who read it"),
    Meaning.ESTIMATED: _("whether it is an estimate"),
    Meaning.NAME: _("name of the mold"),
    Meaning.MOLD_CLASS: _("class"),
    Meaning.CAVITY_COUNT: _("cavities"),
    Meaning.HALF: _("half that the row is about"),
    Meaning.MASS_A: _("mass of the A half"),
    Meaning.MASS_B: _("mass of the B half"),
    Meaning.MASS: _("mass"),
    Meaning.OWNER: _("owner"),
    Meaning.RESIN: _("resin"),
    Meaning.RESIN_GROUP: _("resin group"),
    Meaning.FILLER: _("filler"),
    Meaning.FINISH: _("finish"),
    Meaning.CYCLE_TIME: _("cycle time"),
    Meaning.STORAGE_PLACE: _("storage place"),
    Meaning.CIRCUITS: _("circuits"),
    Meaning.BORE: _("bore of the circuits"),
    Meaning.LENGTH: _("length of the circuits"),
    Meaning.OPENING_COUNT: _("life count"),
    Meaning.OPENING_AT: _("day of the life count"),
    Meaning.DRAWING_REVISION: _("drawing revision"),
    Meaning.TASK: _("task"),
    Meaning.INTERVAL: _("interval"),
    Meaning.COUNT_INTERVAL: _("interval by count"),
    Meaning.PERIOD: _("interval by calendar"),
    Meaning.INTERVAL_UNIT: _("unit of the interval"),
    Meaning.LAST_DONE: _("last done"),
    Meaning.LAST_COUNT: _("count when last done"),
    Meaning.CARE: _("a task of its own"),
    Meaning.REST: _("not needed"),
}
