"""Accounts and their roles; owners manage them."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError as DjangoValidationError
from django.db.models import QuerySet
from rest_framework import serializers

from contractor.api.access import OWNERS
from contractor.api.bulk import BulkCreates
from contractor.api.endpoints.company import BranchSerializer
from contractor.api.fields import ScopedKeyField
from contractor.api.models import Branch, Membership, Role, User
from contractor.api.permissions import role_refusal
from contractor.api.resources import Changes, Creates, Deletes
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from contractor.api.services import people


def checked_password(value: str) -> str:
    """Return a password that passes the site's rules. Raises a validation error."""
    try:
        validate_password(value)
    except DjangoValidationError as error:
        raise serializers.ValidationError(list(error.messages), code="weak_password") from error
    return value


class UserSerializer(StrictModelSerializer[User]):
    class Meta:
        model = User
        fields = [
            "id",
            "username",
            "email",
            "first_name",
            "last_name",
            "is_active",
            "version",
            "created_at",
        ]
        read_only_fields = ["username", "version"]


class NewUserSerializer(StrictSerializer):
    username = serializers.RegexField(r"^[\w.@+-]+\Z", max_length=150)
    email = serializers.EmailField(required=False)
    first_name = serializers.CharField(max_length=150, required=False)
    last_name = serializers.CharField(max_length=150, required=False)
    password = serializers.CharField(max_length=128, required=False, write_only=True)
    branch = ScopedKeyField(Branch.objects.all(), branch_path="pk")
    role = serializers.ChoiceField(Role.choices)

    def validate_password(self, value: str) -> str:
        return checked_password(value)


class UserChangeSerializer(StrictModelSerializer[User]):
    password = serializers.CharField(max_length=128, required=False, write_only=True)

    class Meta:
        model = User
        fields = ["email", "first_name", "last_name", "is_active", "password"]

    def validate_password(self, value: str) -> str:
        return checked_password(value)


class UsersViewSet(BulkCreates, Changes):
    """People and machine accounts of the branches that the caller owns."""

    queryset = User.objects.all()
    serializer_class = UserSerializer
    create_shape = NewUserSerializer
    change_shape = UserChangeSerializer
    branch_path = ""
    area = "company"
    access: ClassVar = {
        "list": OWNERS,
        "retrieve": OWNERS,
        "create": OWNERS,
        "bulk": OWNERS,
        "partial_update": OWNERS,
    }

    def get_queryset(self) -> QuerySet[User]:
        rows = User.objects.all()
        if not hasattr(self, "who"):
            return rows.none()
        return rows.filter(memberships__branch__in=self.who.branches(OWNERS)).distinct()

    def check_place(self, values: dict[str, Any]) -> None:
        branch = values.get("branch")
        if branch is not None and branch.pk not in self.who.branches(OWNERS):
            raise role_refusal(OWNERS)

    def create_row(self, values: dict[str, Any]) -> User:
        return people.add_user(**values)

    def change_row(self, row: Any, values: dict[str, Any], if_match: int | None) -> User:
        """An account with roles elsewhere is not the caller's alone to change."""
        if row.memberships.exclude(branch__in=self.who.branches(OWNERS)).exists():
            raise role_refusal(OWNERS)
        return people.change_user(row.pk, values, if_match)


class MembershipSerializer(StrictModelSerializer[Membership]):
    branch = ScopedKeyField(Branch.objects.all(), branch_path="pk")
    user = ScopedKeyField(User.objects.all(), branch_path="memberships__branch")

    class Meta:
        model = Membership
        fields = ["id", "user", "branch", "role", "version", "created_at"]
        read_only_fields = ["version"]


class MembershipsViewSet(Creates, Deletes):
    """Who holds which role at which branch."""

    queryset = Membership.objects.select_related("branch", "user")
    expandable: ClassVar = {"branch": BranchSerializer, "user": UserSerializer}
    serializer_class = MembershipSerializer
    branch_path = "branch"
    area = "company"
    filterset_fields = ("branch", "user", "role")
    access: ClassVar = {"list": OWNERS, "retrieve": OWNERS, "create": OWNERS, "destroy": OWNERS}

    def create_row(self, values: dict[str, Any]) -> Membership:
        return people.give_role(**values)

    def delete_row(self, row: Any, if_match: int | None) -> None:
        people.take_role(row.pk, if_match)
