"""Issue, rotate and revoke tokens. The secret leaves once, in the answer to its making."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from contractor.api.authentication import digest_of, new_secret
from contractor.api.models import Branch, Token, User
from contractor.api.transactions import service
from contractor.errors import WrongStateError

LONGEST = timedelta(days=366)
GRACE = timedelta(hours=24)


class TokenRevokedError(WrongStateError):
    code = "token_revoked"
    title = "The token is revoked or expired"


@service
def issue_token(
    user: User,
    *,
    name: str,
    scopes: Sequence[str],
    expires_at: datetime,
    branch: Branch | None = None,
) -> tuple[Token, str]:
    """Return the stored token and its secret text."""
    return _store(user, name, scopes, expires_at, branch, None)


@service
def rotate_token(key: int, if_match: int | None, *, at: datetime) -> tuple[Token, str]:
    """Replace a token by one with the same rights and as long a life.

    The old one works for another 24 hours, so that machines can change over.
    """
    old = _lock(key, if_match, at)
    life = old.expires_at - old.created_at
    secret = _store(old.user, old.name, old.scopes, at + life, old.branch, old)
    old.expires_at = min(old.expires_at, at + GRACE)
    old.save()
    return secret


@service
def revoke_token(key: int, if_match: int | None, *, at: datetime) -> Token:
    """Stop a token at once."""
    token = _lock(key, if_match, at)
    token.revoked_at = at
    token.save()
    return token


def _lock(key: int, if_match: int | None, at: datetime) -> Token:
    token = Token.objects.select_for_update().get(pk=key)
    token.expect_version(if_match)
    if token.revoked_at is not None or token.expires_at <= at:
        raise TokenRevokedError(
            "This token no longer works, so it can be neither rotated nor revoked.",
            remedy="Issue a new one.",
        )
    return token


def _store(
    user: User,
    name: str,
    scopes: Sequence[str],
    expires_at: datetime,
    branch: Branch | None,
    replaces: Token | None,
) -> tuple[Token, str]:
    secret = new_secret()
    token = Token.objects.create(
        user=user,
        branch=branch,
        name=name,
        hint=secret[:8],
        digest=digest_of(secret),
        scopes=sorted(scopes),
        expires_at=expires_at,
        replaces=replaces,
    )
    return token, secret
