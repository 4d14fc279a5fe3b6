"""Status today: a read model of one episode, always rebuilt whole from the record."""

from django.db import models
from django.db.models import Q


class EpisodeStatus(models.Model):
    """What is known of an episode as judged on a day. Personal data: health data, derived.

    ``body`` is the whole judgement as JSON; it is large and stays the last column of the table, so
    that SQLite does not read past it for lists. The columns before it are what lists filter and
    sort by: ``…_until`` is the last day on which a value still counts, ``…_why`` the code of
    ``core.values.Why`` where a test gave no index (empty where there was no test), ``looks`` how
    many reasons there are. A row is due again when ``next_change_on`` has come, when the
    episode's version or the rules' version differ, or when there is none.
    """

    episode = models.OneToOneField(
        "clinic.Episode", on_delete=models.CASCADE, related_name="status"
    )
    judged_on = models.DateField()
    next_change_on = models.DateField(null=True)
    rules_version = models.CharField(max_length=64)
    episode_version = models.PositiveIntegerField()
    graft = models.CharField(max_length=20, blank=True)
    graft_from = models.CharField(max_length=12, blank=True)
    index_date = models.DateField(null=True)
    last_visit = models.DateField(null=True)
    next_milestone = models.CharField(max_length=60, blank=True)
    criteria_met = models.PositiveSmallIntegerField(default=0)
    criteria_untested = models.PositiveSmallIntegerField(default=0)
    criteria_out_of_date = models.PositiveSmallIntegerField(default=0)
    criteria_not_assessable = models.PositiveSmallIntegerField(default=0)
    criteria_all = models.PositiveSmallIntegerField(default=0)
    quadriceps_lsi = models.DecimalField(max_digits=9, decimal_places=4, null=True)
    quadriceps_on = models.DateField(null=True)
    quadriceps_until = models.DateField(null=True)
    quadriceps_why = models.CharField(max_length=40, blank=True)
    hop_lsi = models.DecimalField(max_digits=9, decimal_places=4, null=True)
    hop_on = models.DateField(null=True)
    hop_until = models.DateField(null=True)
    hop_why = models.CharField(max_length=40, blank=True)
    look_rank = models.PositiveSmallIntegerField(default=0)
    looks = models.PositiveSmallIntegerField(default=0)
    look_sentence = models.CharField(max_length=200, blank=True)
    body = models.JSONField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(look_rank=0, look_sentence="")
                | (Q(look_rank__gt=0) & ~Q(look_sentence="")),
                name="status_look_has_a_sentence",
            ),
            models.CheckConstraint(
                condition=Q(criteria_met__lte=models.F("criteria_all")),
                name="status_counts_fit",
            ),
        ]
        indexes = [models.Index(fields=["next_change_on"]), models.Index(fields=["-look_rank"])]

    def __str__(self) -> str:
        return f"status of episode {self.episode_id}"
