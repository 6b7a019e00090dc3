"""The layout rules of a survey: company defaults, each of which the document may replace."""

from __future__ import annotations

from contractor.engine.survey import Rules
from contractor.engine.survey_field import Field
from contractor.engine.units import TICKS_PER_INCH, format_length

_FOOT = 12 * TICKS_PER_INCH
#: Member -> (least, most) in ticks. The upper ends only catch wrong units.
_RANGES: dict[str, tuple[int, int]] = {
    "corner_ideal": (1, 20 * _FOOT),
    "corner_min": (0, 20 * _FOOT),
    "corner_max": (1, 20 * _FOOT),
    "spacing_max": (1, 20 * _FOOT),
    "spacing_max_bad": (1, 20 * _FOOT),
    "spacing_soft_min": (0, 20 * _FOOT),
    "spacing_min": (6 * TICKS_PER_INCH, 20 * _FOOT),
    "bracket_offset": (0, _FOOT),
    "clearance": (0, 4 * _FOOT),
    "top_gap": (0, _FOOT),
    "furring_layer": (TICKS_PER_INCH // 4, _FOOT),
    "backer_thickness": (0, _FOOT),
    "screened_spacing_max": (1, 100 * _FOOT),
}
RULE_NAMES = tuple(_RANGES)
_ORDERED = (("corner_min", "corner_max"), ("spacing_min", "spacing_max"))


def read_rules(field: Field) -> Rules:
    """Return the rules of a survey's ``rules`` member; what is null or left out is the default."""
    if field.is_unknown:
        return Rules()
    field.check_members(RULE_NAMES)
    given: dict[str, int] = {}
    for name, (least, most) in _RANGES.items():
        if not field[name].is_unknown:
            given[f"{name}_ticks"] = field[name].length(least=least, most=most)
    rules = Rules(**given)
    for low_name, high_name in _ORDERED:
        low, high = getattr(rules, f"{low_name}_ticks"), getattr(rules, f"{high_name}_ticks")
        if low > high:
            raise field[low_name].refuse(
                "rules_contradict",
                f"{low_name} ({format_length(low)}) is above {high_name} ({format_length(high)}).",
                "Change one of the two.",
            )
    return rules
