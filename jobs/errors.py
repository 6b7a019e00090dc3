"""Refusals of this app."""

from __future__ import annotations

from contractor.errors import DomainError


class EngineerReviewError(DomainError):
    code = "engineer_review_needed"
    title = "A licensed engineer has to decide first"


class NoLayoutError(DomainError):
    code = "no_layout"
    title = "No brace layout meets the rules on this wall"


class OutdatedLayoutError(DomainError):
    code = "outdated_layout"
    title = "The layout is not of the newest survey of its wall"


class MeasuredHeightError(DomainError):
    code = "measured_height_differs"
    title = "The measured height does not fit the cut beam"


class OverTorqueError(DomainError):
    code = "over_torque"
    title = "The torque is above the limit for this brace"


class NoTorqueError(DomainError):
    code = "no_torque"
    title = "Nobody has said how far this brace may be tightened"


class IncompleteInstallError(DomainError):
    code = "incomplete_install"
    title = "The install record is not complete"


class ZeroReadingError(DomainError):
    code = "zero_reading_missing"
    title = "The wall was not measured when it was braced"


class ConsentError(DomainError):
    code = "no_consent"
    title = "The homeowner has not agreed to this channel"


class LinkError(DomainError):
    code = "link_not_valid"
    title = "This link is not valid any more"
    status = 404


class LinkGoneError(LinkError):
    code = "link_expired"
    title = "This link has expired or was taken back"
    status = 410


class DoubtfulReadingError(DomainError):
    code = "doubtful_reading"
    title = "A reading is hard to believe: measure again"


class PictureError(DomainError):
    code = "not_a_picture"
    title = "The file is not a picture that can be kept"
    status = 400
