"""What the warehouse refuses: each with a stable code."""

from __future__ import annotations

from typing import ClassVar

from contractor.errors import DomainError, InvalidValueError


class InsufficientStockError(DomainError):
    """``shortages``: per part what was wanted, what is available, what is short, and when."""

    code: ClassVar[str] = "insufficient_stock"
    title: ClassVar[str] = "Not enough stock"


class BadQuantityError(InvalidValueError):
    code: ClassVar[str] = "quantity_not_positive"
    title: ClassVar[str] = "A quantity must be a whole number above zero"


class UnknownPartError(InvalidValueError):
    code: ClassVar[str] = "unknown_part"
    title: ClassVar[str] = "No such part"


class WrongKindError(InvalidValueError):
    """A bar needs a length, another part has none."""

    code: ClassVar[str] = "wrong_kind_of_part"
    title: ClassVar[str] = "The part is of another kind"


class PieceTooLongError(DomainError):
    code: ClassVar[str] = "piece_too_long"
    title: ClassVar[str] = "The piece is longer than any bar"


class BelowReservedError(DomainError):
    """What would be left is promised to somebody."""

    code: ClassVar[str] = "below_reserved"
    title: ClassVar[str] = "Part of this stock is reserved"


class KitInPlanError(DomainError):
    code: ClassVar[str] = "kit_in_cutting_plan"
    title: ClassVar[str] = "The kit is part of a cutting plan"


class KitNotCompleteError(DomainError):
    code: ClassVar[str] = "kit_not_complete"
    title: ClassVar[str] = "The kit is not complete"


class MoreThanWantedError(DomainError):
    code: ClassVar[str] = "more_than_wanted"
    title: ClassVar[str] = "That is more than is wanted"


class InputsChangedError(DomainError):
    """The stock or the pieces changed while the plan was computed."""

    code: ClassVar[str] = "inputs_changed"
    title: ClassVar[str] = "The inputs of the plan changed meanwhile"


class NothingToCutError(DomainError):
    code: ClassVar[str] = "nothing_to_cut"
    title: ClassVar[str] = "There is nothing to cut"


class PieceAlreadySawnError(DomainError):
    code: ClassVar[str] = "piece_already_sawn"
    title: ClassVar[str] = "The piece has been sawn"


class PlanNotAcceptedError(DomainError):
    """The independent checker found a fault in what the solver returned; nothing was stored."""

    code: ClassVar[str] = "plan_not_accepted"
    title: ClassVar[str] = "The plan did not pass its check"
    status: ClassVar[int] = 500


class LotConflictError(DomainError):
    code: ClassVar[str] = "lot_conflict"
    title: ClassVar[str] = "The lot is known with other facts"
