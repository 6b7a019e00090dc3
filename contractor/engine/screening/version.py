"""Version of the screening rules; it changes whenever a number on a sheet could."""

from typing import Final

ENGINE_VERSION: Final = "screening 1.0.0"
