"""Rule sets in the reader's words: for which molds they are, and what they would change."""

from collections.abc import Iterable, Sized
from dataclasses import dataclass, field
from hashlib import sha256

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from moldcare.acts.rules import Becomes, RuleOnMold, SetOnMold
from moldcare.care.convert import TERM_FIELDS
from moldcare.care.models import CareRule, Equipment, RuleSet, RuleTermsModel
from moldcare.molds.models import Filler, Mold, ResinGroup
from moldcare.pages.rules.rule import limit_lines

# what the words about limits say already
_IN_LIMITS = frozenset(
    {
        "count_base",
        "count_basis",
        "factor_resin",
        "factor_filler",
        "factor_finish",
        "period_n",
        "period_unit",
        "anchor_on",
        "hours_limit",
        "event",
        "event_after_days",
        "measured_quantity",
        "measured_unit",
        "measured_limit",
        "measured_baseline",
        "lead_count",
        "lead_days",
        "margin_count",
        "margin_days",
        "hard_count",
        "hard_days",
        "hard_hours",
        "calendar_counts",
    }
)


def meant_words(rule_set: RuleSet) -> list[str]:
    """Return for which molds a set is meant, one thing a line; none where it is for all."""
    lines = []
    if rule_set.mold_classes:
        lines.append(_("class %(list)s") % {"list": ", ".join(rule_set.mold_classes)})
    if rule_set.resin_groups:
        groups = [str(ResinGroup(each).label) for each in rule_set.resin_groups]
        lines.append(_("resin: %(list)s") % {"list": "; ".join(groups)})
    if rule_set.fillers:
        fillers = [str(Filler(each).label) for each in rule_set.fillers]
        lines.append(_("filler: %(list)s") % {"list": "; ".join(fillers)})
    if rule_set.finishes:
        lines.append(_("finish %(list)s") % {"list": ", ".join(rule_set.finishes)})
    if rule_set.equipment:
        lines.append(_("molds that have %(what)s") % {"what": Equipment(rule_set.equipment).label})
    return lines


def limits_said(rule: RuleTermsModel, *, mold: Mold | None) -> str:
    """Return a rule's limits in one sentence, each with how its interval comes about."""
    lines = limit_lines(rule, mold=mold)
    return "; ".join(f"{said} ({how})" if how else said for said, how in lines)


@dataclass(frozen=True, kw_only=True, slots=True)
class RuleChange:
    """One rule in a preview: what it is now, what it would be, and what else differs."""

    name: str
    now: str = ""
    then: str = ""
    also: str = ""
    reason: str = ""
    say: str = ""


@dataclass(kw_only=True, slots=True)
class MoldPreview:
    """What a set would change on one mold.

    `settled` are rules that the mold adjusted and that the set did not change since; `unwanted`
    the rules of the set that are left out, or whose change is left aside.
    """

    mold: Mold
    new: list[RuleChange] = field(default_factory=list)
    changed: list[RuleChange] = field(default_factory=list)
    left: list[RuleChange] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    settled: list[str] = field(default_factory=list)
    same: int = 0
    unwanted: set[int] = field(default_factory=set)
    is_behind: bool = False

    @property
    def writes(self) -> bool:
        """Whether anything would be written."""
        return bool(self.new or self.changed)

    @property
    def sum(self) -> str:
        """What it comes to, in a few words."""
        kept = len(self.left) + len(self.settled)
        parts: list[tuple[Sized, str]] = [
            (self.new, ngettext("%(n)d new rule", "%(n)d new rules", len(self.new))),
            (self.changed, ngettext("%(n)d changed", "%(n)d changed", len(self.changed))),
            (
                [*self.left, *self.settled],
                ngettext("%(n)d left as it is", "%(n)d left as they are", kept),
            ),
            (self.left_out, ngettext("%(n)d left out", "%(n)d left out", len(self.left_out))),
        ]
        said = [words % {"n": len(found)} for found, words in parts if found]
        return ", ".join(said) if said else _("has the set as it is now")


def previews_of(plans: Iterable[SetOnMold], *, rule_set: RuleSet) -> list[MoldPreview]:
    """Return what a set would change on molds, in words."""
    return [_preview(plan, rule_set=rule_set) for plan in plans]


def _preview(plan: SetOnMold, *, rule_set: RuleSet) -> MoldPreview:
    found = MoldPreview(
        mold=plan.mold,
        unwanted={each.row.pk for each in plan.of(Becomes.UNWANTED, Becomes.LEFT_ASIDE)},
        is_behind=plan.taken is not None and plan.taken.revision < rule_set.revision,
    )
    for each in plan.rules:
        match each.becomes:
            case Becomes.NEW:
                then = limits_said(each.wanted, mold=plan.mold)
                found.new.append(RuleChange(name=each.row.name, then=then, reason=each.row.reason))
            case Becomes.CHANGED:
                found.changed.append(_change(each, mold=plan.mold))
            case Becomes.SAME:
                found.same += 1
            case Becomes.WITHDRAWN | Becomes.UNWANTED:
                found.left_out.append(each.row.name)
            case Becomes.ADJUSTED if plan.taken and each.row.changed_in <= plan.taken.revision:
                found.settled.append(each.row.name)
            case _:
                found.left.append(_left(each, mold=plan.mold))
    return found


def _change(each: RuleOnMold, *, mold: Mold) -> RuleChange:
    now = "" if each.rule is None else limits_said(each.rule, mold=mold)
    then = limits_said(each.wanted, mold=mold)
    is_other = now != then
    return RuleChange(
        name=each.row.name if each.rule is None else each.rule.name,
        now=now if is_other else "",
        then=then if is_other else "",
        also=_also(each),
        reason=each.row.reason,
    )


def _also(each: RuleOnMold) -> str:
    """Return what differs besides the limits, by the names of the forms."""
    labels = [
        str(getattr(CareRule._meta.get_field(name), "verbose_name", name))
        for name in TERM_FIELDS
        if name in each.differing and name not in _IN_LIMITS
    ]
    if each.steps_differ:
        labels.append(_("steps"))
    return ", ".join(labels)


def _left(each: RuleOnMold, *, mold: Mold) -> RuleChange:
    says = {
        Becomes.ADJUSTED: _("Adjusted on this mold, so it stays."),
        Becomes.LEFT_ASIDE: _("What changed is left aside; it stays as it is."),
        Becomes.OWN: _("The mold has a rule of its own with this name; it stays."),
        Becomes.BEGUN: _("Order %(number)s was begun with its steps; it is offered again later.")
        % {"number": each.why},
        Becomes.REFUSED: each.why,
        Becomes.GONE: _("The set has it no more; on this mold it stays until it is withdrawn."),
    }
    told = RuleChange(name=each.row.name, say=says[each.becomes])
    if each.becomes not in (Becomes.ADJUSTED, Becomes.LEFT_ASIDE) or each.rule is None:
        return told
    now = limits_said(each.rule, mold=mold)
    then = limits_said(each.wanted, mold=mold)
    if now == then:
        return told
    said = _("Here: %(now)s. The set asks: %(then)s.") % {"now": now, "then": then}
    return RuleChange(name=each.row.name, say=f"{told.say} {said}")


def mark_of(plans: Iterable[SetOnMold]) -> str:
    """Return a mark of what a preview showed, mold by mold: another once something else would be.

    Of several molds some may be unticked; the marks of the others stay what they were.
    """
    marks = []
    for plan in plans:
        lines = [
            f"{each.row.pk} {each.becomes} {each.steps} "
            f"{[str(getattr(each.wanted, name)) for name in TERM_FIELDS]}"
            for each in plan.rules
        ]
        mark = sha256("\n".join(lines).encode()).hexdigest()[:12]
        marks.append(f"{plan.mold.pk}:{mark}")
    return " ".join(marks)
