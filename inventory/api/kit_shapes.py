"""Shapes of kits, cutting plans, promises and proposals."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from contractor.api.fields import InstantField, LengthField, ScopedKeyField
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from inventory.amounts import MOST
from inventory.api.movement_shapes import NeedShape
from inventory.api.shapes import (
    BarLengthField,
    bin_key,
    branch_key,
    part_key,
    quantity,
)
from inventory.api.shapes import (
    lines as many_lines,
)
from inventory.models import CutPiece, CutPlanBar, CuttingPlan, Kit, KitLine

KITS_MOST = 100


class KitLineShape(StrictModelSerializer[KitLine]):
    length = BarLengthField(read_only=True)
    scrapped_cents = serializers.IntegerField(read_only=True)

    class Meta:
        model = KitLine
        fields = (
            *("id", "part", "mark", "length", "quantity", "cut", "pulled", "short", "returned"),
            *("scrapped", "used", "cents", "scrapped_cents", "reason", "scrap_reason"),
            *("scrapped_at", "substitutes"),
        )
        read_only_fields = fields


class KitShape(StrictModelSerializer[Kit]):
    lines = KitLineShape(many=True, read_only=True)

    class Meta:
        model = Kit
        fields = (
            *("id", "branch", "reference", "status", "priority", "needed_on", "lines"),
            *("version", "created_at", "updated_at"),
        )
        read_only_fields = fields


class OpenKitShape(StrictSerializer):
    branch = branch_key()
    reference = serializers.CharField(max_length=120)
    priority = serializers.IntegerField(min_value=1, max_value=4, default=1)
    needed_on = serializers.DateField(default=None, allow_null=True)
    lines = many_lines(NeedShape)


class ReserveKitShape(StrictSerializer):
    expires_at = InstantField(default=None, allow_null=True)


class PullShape(StrictSerializer):
    line = serializers.IntegerField(min_value=1)
    quantity = quantity()


class ShortShape(PullShape):
    reason = serializers.CharField(max_length=200)


class SubstituteShape(ShortShape):
    """``part`` is taken instead of ``quantity`` of the line's part."""

    part = part_key()


class RemeasureShape(StrictSerializer):
    line = serializers.IntegerField(min_value=1)
    length = LengthField(source="length_ticks", positive=True)
    count = serializers.IntegerField(min_value=1, max_value=MOST, default=None, allow_null=True)


class ReturnedLineShape(StrictSerializer):
    line = serializers.IntegerField(min_value=1)
    quantity = quantity()


class ReturnShape(StrictSerializer):
    """``scrapped``: what was spoiled on site, for ``reason``; a line may be in both lists."""

    lines = many_lines(ReturnedLineShape, required=False, default=list)
    scrapped = many_lines(ReturnedLineShape, required=False, default=list)
    reason = serializers.CharField(max_length=200, required=False, default="")


class TakeOverShape(StrictSerializer):
    donors = serializers.ListField(
        child=ScopedKeyField(Kit.objects.all(), branch_path="branch"),
        min_length=1,
        max_length=KITS_MOST,
    )
    expires_at = InstantField(default=None, allow_null=True)


class CutPieceShape(StrictModelSerializer[CutPiece]):
    length = BarLengthField(read_only=True)

    class Meta:
        model = CutPiece
        fields = ("id", "kit_line", "position", "length", "status", "cents", "reason")
        read_only_fields = fields


class CutPlanBarShape(StrictModelSerializer[CutPlanBar]):
    length = BarLengthField(read_only=True)
    left = LengthField(source="left_ticks", read_only=True)
    pieces = CutPieceShape(many=True, read_only=True)

    class Meta:
        model = CutPlanBar
        fields = (
            *("id", "number", "status", "stock_length", "offcut", "length", "left"),
            *("is_kept", "kept_offcut", "sawn_at", "pieces"),
        )
        read_only_fields = fields


class CuttingPlanShape(StrictModelSerializer[CuttingPlan]):
    kerf = LengthField(source="kerf_ticks", read_only=True)
    end_trim = LengthField(source="end_trim_ticks", read_only=True)
    min_offcut = LengthField(source="min_offcut_ticks", read_only=True)
    bars = CutPlanBarShape(many=True, read_only=True)
    gap = serializers.FloatField(read_only=True)

    class Meta:
        model = CuttingPlan
        fields = (
            *("id", "branch", "part", "kits", "status", "needs_replan", "revision", "kerf"),
            *("end_trim", "min_offcut", "cost_cents", "bound_cents", "gap", "is_proven"),
            *("method", "seconds", "problem", "planned_at", "bars"),
            *("version", "created_at", "updated_at"),
        )
        read_only_fields = fields


class RequestCutsShape(StrictSerializer):
    """The kits are of one branch."""

    kits = serializers.ListField(
        child=ScopedKeyField(Kit.objects.all(), branch_path="branch"),
        min_length=1,
        max_length=KITS_MOST,
    )


class PlansShape(serializers.Serializer[Any]):
    results = CuttingPlanShape(many=True)


class MisCutPieceShape(StrictSerializer):
    piece = serializers.IntegerField(min_value=1)
    reason = serializers.CharField(max_length=200)


class SawnShape(StrictSerializer):
    """``left``: the remainder as measured; as planned if it is left out."""

    bar = serializers.IntegerField(min_value=1)
    left = LengthField(source="left_ticks", required=False, default=None, allow_null=True)
    bin = bin_key()
    mis_cut = many_lines(MisCutPieceShape, least=0, required=False, default=list)


class MisCutShape(MisCutPieceShape):
    """``actual``: what the piece measures; long enough, it is kept as an offcut."""

    actual = LengthField(source="actual_ticks", required=False, default=0)


class AtpShape(StrictSerializer):
    branch = branch_key()
    priority = serializers.IntegerField(min_value=1, max_value=4, default=1)
    needed_on = serializers.DateField(default=None, allow_null=True)
    lines = many_lines(NeedShape)


class PromiseShape(serializers.Serializer[Any]):
    part = serializers.IntegerField(source="part_pk")
    length = BarLengthField(read_only=True)
    quantity = serializers.IntegerField()
    available = serializers.IntegerField()
    on = serializers.DateField(allow_null=True)
    source = serializers.ChoiceField(  # type: ignore[assignment]
        choices=["stock", "order", "transfer", "release", "lead_time", "none"]
    )


class AtpAnswerShape(serializers.Serializer[Any]):
    lines = PromiseShape(many=True)
    whole_on = serializers.DateField(allow_null=True)


class LossShape(serializers.Serializer[Any]):
    part = serializers.IntegerField(source="part_pk")
    quantity = serializers.IntegerField()
    promise = PromiseShape(allow_null=True)


class ProposalShape(serializers.Serializer[Any]):
    kit = serializers.IntegerField(source="kit_pk")
    priority = serializers.IntegerField()
    losses = LossShape(many=True)
    until = serializers.DateField(allow_null=True)


class ProposalsShape(serializers.Serializer[Any]):
    results = ProposalShape(many=True)
