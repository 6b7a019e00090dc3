"""Shapes of the explanations of a crew plan; members as in the engine's documents."""

from __future__ import annotations

from rest_framework import serializers

Plain = serializers.Serializer[dict[str, object]]


class ObstacleShape(Plain):
    code = serializers.CharField()
    text = serializers.CharField()


class PlaceShape(Plain):
    crew = serializers.CharField()
    date = serializers.DateField()
    half = serializers.ChoiceField(choices=["am", "pm"])
    halfdays = serializers.IntegerField()


class CostPartsShape(Plain):
    travel = serializers.IntegerField()
    tardiness = serializers.IntegerField()
    weekend_split = serializers.IntegerField()
    crew_change = serializers.IntegerField()
    date_change = serializers.IntegerField()
    unscheduled = serializers.IntegerField()
    total = serializers.IntegerField()


class OptionShape(Plain):
    visit = PlaceShape()
    cost = CostPartsShape()
    held_by = serializers.ListField(child=serializers.CharField())


class AlternativeShape(OptionShape):
    extra = serializers.IntegerField()


class ReliefShape(OptionShape):
    what = serializers.CharField()
    size = serializers.FloatField()


class LimitShape(Plain):
    what = serializers.CharField()
    until = serializers.DateField()


class PinReasonShape(Plain):
    owner = serializers.CharField()
    reason = serializers.CharField()
    is_kept = serializers.BooleanField()
    cost_at_least = serializers.IntegerField()


class UnplannedShape(Plain):
    crews = serializers.DictField(child=ObstacleShape(many=True))
    starts_by_rule = serializers.DictField(child=serializers.IntegerField())
    legal_starts = serializers.IntegerField()
    free_starts = serializers.IntegerField()
    cheapest_free = OptionShape(allow_null=True)
    left_out = CostPartsShape()


class WhyShape(Plain):
    schema = serializers.CharField()
    job = serializers.CharField()
    visit = PlaceShape(allow_null=True)
    cost = CostPartsShape()
    alternatives = AlternativeShape(many=True)
    earliest_start = LimitShape(many=True)
    slack_halfdays = serializers.IntegerField()
    pin = PinReasonShape(allow_null=True)
    unplanned = UnplannedShape(allow_null=True)
    would_help = ReliefShape(many=True)


class DisplacedShape(Plain):
    job = serializers.CharField()
    to = PlaceShape(allow_null=True)
    extra = serializers.IntegerField()


class WhyNotShape(Plain):
    """Hard rules first; without any, who would have to go and what all of it costs."""

    is_legal = serializers.BooleanField()
    obstacles = ObstacleShape(many=True)
    displaced = DisplacedShape(many=True)
    extra = serializers.IntegerField(allow_null=True)


class WeekPriceShape(Plain):
    branch = serializers.CharField()
    week = serializers.CharField()
    most = serializers.FloatField()
    mean = serializers.FloatField()


class CrewDayPricesShape(Plain):
    """What one more crew-day would save, at most and on average over the crew-days of a week."""

    schema = serializers.CharField()
    weeks = WeekPriceShape(many=True)


class PinValueShape(Plain):
    job = serializers.IntegerField()
    owner = serializers.CharField()
    reason = serializers.CharField()
    is_kept = serializers.BooleanField(allow_null=True)
    cost_at_least = serializers.IntegerField(allow_null=True)


class ValueShape(Plain):
    cost = serializers.IntegerField()
    bound = serializers.IntegerField()
    gap = serializers.FloatField()
    proven = serializers.BooleanField()
    seconds = serializers.FloatField()
    seed = serializers.IntegerField()
    engine = serializers.CharField()
    rule = serializers.CharField(allow_blank=True)
    rule_cost = serializers.IntegerField(allow_null=True)
    pins = PinValueShape(many=True)
