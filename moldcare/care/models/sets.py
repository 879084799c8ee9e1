"""Rule sets, their rules, and which molds took them."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from moldcare.care.models.terms import RuleTermsModel, terms_constraints
from moldcare.facts import one_of
from moldcare.molds.models import Mold


class Equipment(models.TextChoices):
    """What some molds have and others do not."""

    NONE = "", _("nothing in particular")
    SLIDES = "slides", _("slides or lifters")
    BUBBLERS = "bubblers", _("bubblers or baffles")
    HOT_RUNNER = "hot_runner", _("a hot runner")


class RuleSet(models.Model):
    """Rules that molds of a kind begin with, and for which molds they are meant.

    An empty list asks for nothing: the set is meant for every class, resin, filler or finish.
    `revision` goes up by one with each change of a rule in it. A set that was withdrawn is proposed
    to no mold any more; the rules that molds took from it stay theirs.
    """

    name = models.CharField(_("name"), max_length=120)
    note = models.CharField(_("for which molds"), max_length=400, blank=True)
    mold_classes = models.JSONField(_("mold classes"), default=list, blank=True)
    resin_groups = models.JSONField(_("resin groups"), default=list, blank=True)
    fillers = models.JSONField(_("fillers"), default=list, blank=True)
    finishes = models.JSONField(_("finish grades"), default=list, blank=True)
    equipment = models.CharField(
        _("molds that have"), max_length=12, choices=Equipment, default=Equipment.NONE, blank=True
    )
    revision = models.PositiveIntegerField(default=1, editable=False)
    withdrawn_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            one_of("equipment", Equipment),
            models.UniqueConstraint(
                fields=["name"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="care_ruleset_once",
                violation_error_message=_("There is a rule set with this name already."),
            ),
        ]

    def __str__(self) -> str:
        return self.name


class SetRule(RuleTermsModel):
    """One rule of a set: a starting value, to be checked by the plant.

    `changed_in` is the set's revision in which it was added or last changed.
    """

    rule_set = models.ForeignKey(RuleSet, models.PROTECT, related_name="rules")
    steps = models.JSONField(default=list, blank=True)
    covers = models.JSONField(default=list, blank=True)
    by_resin = models.BooleanField(_("the mold's resin shortens it"), default=False)
    by_filler = models.BooleanField(_("the mold's filler shortens it"), default=False)
    changed_in = models.PositiveIntegerField(default=1, editable=False)
    withdrawn_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["rule_set", "id"]
        constraints = [
            *terms_constraints(),
            models.UniqueConstraint(
                fields=["rule_set", "name"],
                condition=models.Q(withdrawn_at__isnull=True),
                name="care_setrule_once",
            ),
        ]


class TakenSet(models.Model):
    """A mold took a rule set: as of which revision, and without which of its rules.

    `left_aside` are changes that were not wanted: by the key of the set's rule, the revision in
    which it had changed. A later change of the same rule is offered again.
    """

    mold = models.ForeignKey(Mold, models.PROTECT, related_name="taken_sets")
    rule_set = models.ForeignKey(RuleSet, models.PROTECT, related_name="takings")
    revision = models.PositiveIntegerField()
    without = models.JSONField(default=list, blank=True)
    left_aside = models.JSONField(default=dict, blank=True)
    taken_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["mold", "rule_set"], name="care_takenset_once")
        ]

    def __str__(self) -> str:
        return f"{self.mold}: {self.rule_set}"
