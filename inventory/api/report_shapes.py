"""Shapes of buying suggestions and of the saw's reports."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from contractor.api.fields import LengthField
from inventory.api.shapes import BarLengthField, PositionShape


class PositionsShape(serializers.Serializer[Any]):
    at = serializers.DateTimeField()
    results = PositionShape(many=True)
    cents = serializers.IntegerField()


class SuggestedLineShape(serializers.Serializer[Any]):
    part = serializers.IntegerField(source="part_pk")
    length = BarLengthField(read_only=True)
    packs = serializers.IntegerField()
    quantity = serializers.IntegerField()
    cents = serializers.IntegerField()
    because = serializers.CharField()


class SuggestionShape(serializers.Serializer[Any]):
    supplier = serializers.IntegerField(source="supplier_pk")
    lines = SuggestedLineShape(many=True)
    cents = serializers.IntegerField()
    missing_cents = serializers.IntegerField()
    arrives_on = serializers.DateField()


class SuggestionsShape(serializers.Serializer[Any]):
    results = SuggestionShape(many=True)


class ReorderPointShape(serializers.Serializer[Any]):
    part = serializers.IntegerField(source="part_pk")
    use_per_day = serializers.FloatField()
    lead_days = serializers.IntegerField()
    safety = serializers.IntegerField()
    point = serializers.IntegerField()


class ReorderPointsShape(serializers.Serializer[Any]):
    results = ReorderPointShape(many=True)


class MonthYieldShape(serializers.Serializer[Any]):
    month = serializers.DateField()
    part = serializers.IntegerField(source="part_pk")
    pieces = LengthField(source="pieces_ticks")
    waste = LengthField(source="waste_ticks")
    kept = LengthField(source="kept_ticks")
    waste_cents = serializers.IntegerField()
    plan_cents = serializers.IntegerField()
    bound_cents = serializers.IntegerField()
    site_scrap = serializers.IntegerField()
    site_scrap_cents = serializers.IntegerField()
    yield_share = serializers.FloatField()


class OffcutAgeShape(serializers.Serializer[Any]):
    part = serializers.IntegerField(source="part_pk")
    days = serializers.IntegerField(allow_null=True)
    count = serializers.IntegerField()
    length = LengthField(source="ticks")


class SawReportShape(serializers.Serializer[Any]):
    months = MonthYieldShape(many=True)
    offcuts = OffcutAgeShape(many=True)


class FaultShape(serializers.Serializer[Any]):
    code = serializers.CharField()
    text = serializers.CharField()


class FaultsShape(serializers.Serializer[Any]):
    results = FaultShape(many=True)
