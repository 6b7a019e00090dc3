"""Steps of an install, in order (common practice, company-editable)."""

from __future__ import annotations

STEPS: dict[str, str] = {
    "protect": "Protect floor and belongings, clear the wall, find utilities",
    "mark": "Mark the brace positions from the drawing",
    "dry_fit": "Cut and dry-fit the beam, tight against the wall's base",
    "top_bracket": "Assemble the top bracket with about 1/4 in between nut and channel",
    "drill_joist": "Drill the joist or backer, the bracket as template",
    "bolt_joist": "Bolt the bracket to the joist side, or turned to the backer",
    "plumb": "Plumb the beam; base still tight against the wall",
    "bottom_bracket": "Set the bottom bracket",
    "first_anchor": "Set the first anchor",
    "second_anchor": "Set the second anchor",
    "seal": "Seal a hole that went through the footing",
    "tighten": "Tighten to the torque, never above the limit",
    "label": "Label with company and date",
}
JOB_STEPS: dict[str, str] = {
    "clean_up": "Clean up",
    "hand_over": "Hand over the re-tightening kit and show how it is used",
}
CAUTIONS: tuple[str, ...] = (
    "Screening is not engineering design: stop and call the office when the wall differs.",
    "Drilling concrete frees silica dust: shroud and vacuum with a HEPA filter (29 CFR 1926.1153).",
    "Wear eye and ear protection while drilling, cutting and driving.",
    "Two people lift what weighs more than 51 lb (NIOSH lifting equation, load constant).",
    "Cutting steel throws sparks: clear what burns, keep an extinguisher at hand.",
    "Find water, gas and power lines before drilling slab, wall or joist.",
    "Houses built before 1978 may have lead paint: 40 CFR 745 decides how to work.",
    "Never tighten above the torque on the sheet: the wall comes back over years, not today.",
)
