"""The real application, which gives the fuzzed person back what fuzzing took from it.

Its token may be revoked and its role withdrawn by its own requests; without this the rest of
the run would see nothing but refusals.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any


def main(facts: Path, role: str, port: int) -> None:
    from django.core.wsgi import get_wsgi_application

    application = get_wsgi_application()
    from waitress import serve

    from contractor.api.models import Membership, Token, User

    who = json.loads(facts.read_text())["roles"][role]

    def restore() -> None:
        Token.objects.filter(pk=who["token"]).exclude(revoked_at=None).update(revoked_at=None)
        User.objects.filter(pk=who["user"], is_active=False).update(is_active=True)
        place = {"user_id": who["user"], "branch_id": who["branch"], "role": role}
        if not Membership.objects.filter(**place).exists():
            Membership.objects.create(**place)

    def kept(environ: dict[str, Any], start_response: Any) -> Any:
        restore()
        return application(environ, start_response)

    serve(kept, host="127.0.0.1", port=port, threads=4, _quiet=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]))
