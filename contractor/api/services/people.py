"""Add people and machine accounts, and give them roles at branches."""

from __future__ import annotations

from django.db import IntegrityError, transaction

from contractor.api.models import Branch, Membership, User
from contractor.api.transactions import service
from contractor.errors import DomainError


class NameTakenError(DomainError):
    code = "name_taken"
    title = "The name is in use"


class LastOwnerError(DomainError):
    code = "last_owner"
    title = "A branch keeps at least one owner"


@service
def add_user(
    *, username: str, branch: Branch, role: str, password: str | None = None, **names: str
) -> User:
    """Create an account with its first role. Without a password it can only hold tokens."""
    user = User(username=username, **names)
    user.hired_at = branch
    user.set_password(password)
    try:
        with transaction.atomic():
            user.save()
    except IntegrityError as error:
        raise NameTakenError(
            "Another account has this username.", remedy="Choose another username."
        ) from error
    Membership.objects.create(user=user, branch=branch, role=role)
    return user


@service
def change_user(key: int, values: dict[str, object], if_match: int | None) -> User:
    """Change names or switch an account off; ``password`` is hashed."""
    user = User.objects.select_for_update().get(pk=key)
    user.expect_version(if_match)
    for name, value in values.items():
        if name == "password":
            user.set_password(str(value))
        else:
            setattr(user, name, value)
    user.save()
    return user


@service
def give_role(*, user: User, branch: Branch, role: str) -> Membership:
    """Give ``user`` a role; giving it twice is NameTakenError."""
    try:
        with transaction.atomic():
            return Membership.objects.create(user=user, branch=branch, role=role)
    except IntegrityError as error:
        raise NameTakenError("This person holds this role at this branch already.") from error


@service
def take_role(key: int, if_match: int | None) -> None:
    """Take a role away; the last active owner of a branch stays."""
    membership = Membership.objects.select_related("branch").get(pk=key)
    Branch.objects.select_for_update().get(pk=membership.branch_id)
    membership = Membership.objects.select_for_update().get(pk=key)
    membership.expect_version(if_match)
    others = Membership.objects.filter(
        branch_id=membership.branch_id, role="owner", user__is_active=True
    ).exclude(pk=key)
    if membership.role == "owner" and not others.exists():
        raise LastOwnerError(
            "Nobody else owns this branch.", remedy="Make somebody else an owner first."
        )
    membership.delete()
