"""The append-only ledger. Triggers refuse UPDATE and DELETE (see ``inventory.sealing``).

Every entry carries the running balance of its part at its branch, so that stock and value at
any past moment are one index lookup. Quantities are units of use, or ticks for bars.
"""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from contractor.api.models import Branch
from inventory.models.parts import Part
from inventory.models.places import Offcut, Place, StockLength, StockLevel

ONE_PLACE = (
    Q(stock_level__isnull=False, stock_length__isnull=True, offcut__isnull=True)
    | Q(stock_level__isnull=True, stock_length__isnull=False, offcut__isnull=True)
    | Q(stock_level__isnull=True, stock_length__isnull=True, offcut__isnull=False)
)


class Balance(models.Model):
    """Head of the ledger of one part at one branch; locked while an entry is added.

    ``cents`` is the moving-average value of ``quantity``. What leaves takes
    ``cents * q / quantity``, halves up; the last unit takes what is left, so that an
    empty place is worth exactly nothing.
    """

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="balances")
    quantity = models.BigIntegerField(default=0)
    cents = models.BigIntegerField(default=0)
    seq = models.PositiveBigIntegerField(default=0)
    at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["branch", "part"], name="balance_once"),
            models.CheckConstraint(
                condition=Q(quantity__gt=0, cents__gte=0) | Q(quantity=0, cents=0),
                name="balance_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.part} at {self.branch}: {self.quantity}"


class LedgerEntry(models.Model):
    """``change`` counts units, bars or the offcut; ``quantity`` is the same in units or ticks.

    A sawn bar is several entries at its place: ``cut`` (the pieces, ``change`` -1), ``scrap``
    (kerf and waste, 0) and ``offcut`` (0 here, +1 at the new offcut).
    """

    class Kind(models.TextChoices):
        RECEIPT = "receipt"
        ISSUE = "issue"
        RETURN = "return"
        COUNT = "count"
        ADJUSTMENT = "adjustment"
        MOVE = "move"
        TRANSFER_OUT = "transfer_out"
        TRANSFER_IN = "transfer_in"
        TRANSFER_LOSS = "transfer_loss"
        CUT = "cut"
        SCRAP = "scrap"
        OFFCUT = "offcut"

    branch = models.ForeignKey(Branch, on_delete=models.PROTECT, related_name="+")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="+")
    seq = models.PositiveBigIntegerField()
    at = models.DateTimeField()
    kind = models.CharField(max_length=16, choices=Kind.choices)
    stock_level = models.ForeignKey(
        StockLevel, on_delete=models.PROTECT, null=True, related_name="entries"
    )
    stock_length = models.ForeignKey(
        StockLength, on_delete=models.PROTECT, null=True, related_name="entries"
    )
    offcut = models.ForeignKey(Offcut, on_delete=models.PROTECT, null=True, related_name="entries")
    change = models.BigIntegerField()
    quantity = models.BigIntegerField()
    cents = models.BigIntegerField()
    balance_quantity = models.BigIntegerField()
    balance_cents = models.BigIntegerField()
    place_balance = models.BigIntegerField()
    reason = models.CharField(max_length=200, blank=True)
    reference = models.CharField(max_length=120, blank=True)
    actor = models.CharField(max_length=80, default="system")

    class Meta:
        ordering = ["id"]
        verbose_name_plural = "ledger entries"
        constraints = [
            models.UniqueConstraint(fields=["branch", "part", "seq"], name="ledger_seq_once"),
            models.CheckConstraint(condition=ONE_PLACE, name="ledger_one_place"),
            models.CheckConstraint(
                condition=Q(balance_quantity__gt=0, balance_cents__gte=0)
                | Q(balance_quantity=0, balance_cents=0),
                name="ledger_balance_not_negative",
            ),
            models.CheckConstraint(
                condition=Q(place_balance__gte=0), name="ledger_place_not_negative"
            ),
        ]
        indexes = [
            models.Index(fields=["branch", "part", "at", "seq"], name="ledger_past"),
            models.Index(fields=["branch", "kind", "at"], name="ledger_by_kind"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.quantity} of {self.part}"

    @property
    def place(self) -> Place:
        found = self.stock_level or self.stock_length or self.offcut
        assert found is not None  # the constraint ledger_one_place
        return found
