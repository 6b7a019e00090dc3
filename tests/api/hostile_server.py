"""The real application in a process of its own, which can be told to die at a bad moment.

``X-Test-Die: before-commit`` ends the process inside the transaction, after effect and answer
were written; ``after-commit`` ends it when the answer is complete but before a byte was sent.
"""

from __future__ import annotations

import os
import sys
from typing import Any


def main(port: int) -> None:
    from django.core.wsgi import get_wsgi_application

    application = get_wsgi_application()
    from waitress import serve

    from contractor.api import idempotency

    keep = idempotency._act_and_keep
    wish = {"die": ""}

    def keep_or_die(*args: Any, **kwargs: Any) -> Any:
        answer = keep(*args, **kwargs)
        if wish["die"] == "before-commit":
            os._exit(9)
        return answer

    idempotency._act_and_keep = keep_or_die

    def deadly(environ: dict[str, Any], start_response: Any) -> Any:
        wish["die"] = environ.get("HTTP_X_TEST_DIE", "")
        body = application(environ, start_response)
        if wish["die"] == "after-commit":
            os._exit(9)
        return body

    serve(deadly, host="127.0.0.1", port=port, threads=8, _quiet=True)


if __name__ == "__main__":
    main(int(sys.argv[1]))
