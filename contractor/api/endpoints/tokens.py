"""Tokens: one's own, and those of accounts at the branches that one owns."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any, ClassVar

from django.db.models import Q, QuerySet
from django.utils import timezone
from rest_framework import serializers

from contractor.api.access import EVERYONE, OWNERS, carries
from contractor.api.commands import Order, command
from contractor.api.faults import fault
from contractor.api.fields import InstantField, ScopedKeyField
from contractor.api.models import Branch, Membership, Token, User
from contractor.api.permissions import role_refusal
from contractor.api.refusals import ScopeMissingError
from contractor.api.resources import Creates
from contractor.api.serializers import StrictModelSerializer, StrictSerializer
from contractor.api.services import tokens

AREAS = ("company", "tokens", "events", "webhooks", "calculations", "inventory", "jobs", "crews")
SCOPES = tuple(f"{area}:{verb}" for area in ("*", *AREAS) for verb in ("read", "write"))


class TokenSerializer(StrictModelSerializer[Token]):
    class Meta:
        model = Token
        fields = [
            "id",
            "user",
            "branch",
            "name",
            "hint",
            "scopes",
            "expires_at",
            "revoked_at",
            "last_used_at",
            "replaces",
            "version",
            "created_at",
        ]
        read_only_fields = fields

    scopes = serializers.ListField(child=serializers.CharField(), read_only=True)


class IssuedTokenSerializer(TokenSerializer):
    secret = serializers.CharField(read_only=True, help_text="Shown this once.")

    class Meta(TokenSerializer.Meta):
        fields = [*TokenSerializer.Meta.fields, "secret"]
        read_only_fields = fields


class NewTokenSerializer(StrictSerializer):
    name = serializers.CharField(max_length=80)
    scopes = serializers.ListField(
        child=serializers.ChoiceField(SCOPES), min_length=1, max_length=len(SCOPES)
    )
    expires_at = InstantField(required=False)
    branch = ScopedKeyField(
        Branch.objects.all(), branch_path="pk", required=False, allow_null=True, default=None
    )
    user = ScopedKeyField(
        User.objects.all(), branch_path="memberships__branch", required=False, default=None
    )

    def validate_expires_at(self, value: datetime) -> datetime:
        now = timezone.now()
        if not now < value <= now + tokens.LONGEST:
            raise fault(
                "The token would not end between now and a year from now.",
                code="expiry_out_of_range",
                remedy="Give a time within the next 366 days, or leave it out for 90 days.",
            )
        return value


class TokensViewSet(Creates):
    """A token never carries more than the caller: scopes, branch and person are all bounded."""

    queryset = Token.objects.select_related("user")
    serializer_class = TokenSerializer
    create_shape = NewTokenSerializer
    created_shape = IssuedTokenSerializer
    area = "tokens"
    seals_answers = True
    filterset_fields = ("user",)
    access: ClassVar = {
        "list": EVERYONE,
        "retrieve": EVERYONE,
        "create": EVERYONE,
        "rotate": EVERYONE,
        "revoke": EVERYONE,
    }

    def get_queryset(self) -> QuerySet[Token]:
        if not hasattr(self, "who"):
            return Token.objects.none()
        mine = Q(user=self.who.user) | Q(user__in=self._managed())
        return Token.objects.select_related("user").filter(mine)

    def _managed(self) -> QuerySet[User]:
        """Return the accounts whose every role is at a branch that the caller owns."""
        owned = self.who.branches(OWNERS)
        elsewhere = Membership.objects.exclude(branch__in=owned).values("user")
        return User.objects.filter(memberships__branch__in=owned).exclude(pk__in=elsewhere)

    def check_place(self, values: dict[str, Any]) -> None:
        user = values["user"]
        if user is not None and user != self.who.user and user not in self._managed():
            raise role_refusal(OWNERS)
        for scope in values["scopes"]:
            if self.who.token and not carries(self.who.token.scopes, scope):
                raise ScopeMissingError(
                    f"Your own token does not carry {scope}.",
                    remedy="A token can only issue scopes that it carries itself.",
                    scope=scope,
                )
        if self.who.token and self.who.token.branch_id and values["branch"] is None:
            raise role_refusal(OWNERS)

    def create_row(self, values: dict[str, Any]) -> Any:
        values.setdefault("expires_at", timezone.now() + timedelta(days=90))
        user = values.pop("user") or self.who.user
        return _with_secret(*tokens.issue_token(user, **values))

    @command(answer=IssuedTokenSerializer, status=201)
    def rotate(self, order: Order) -> Any:
        """Issue a successor; the old token works for another 24 hours."""
        self._check_may_hand_out(order.row)
        return _with_secret(*tokens.rotate_token(order.row.pk, order.if_match, at=timezone.now()))

    @command()
    def revoke(self, order: Order) -> Token:
        """Stop the token at once."""
        return tokens.revoke_token(order.row.pk, order.if_match, at=timezone.now())

    def _check_may_hand_out(self, token: Token) -> None:
        values = {"user": token.user, "scopes": token.scopes, "branch": token.branch}
        self.check_place(values)


def _with_secret(token: Token, secret: str) -> Token:
    token.secret = secret  # type: ignore[attr-defined]
    return token
