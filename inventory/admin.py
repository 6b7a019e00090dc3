"""The ledger to read, parts to look up; everything else goes through the services."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import admin
from django.http import HttpRequest

from inventory.models import LedgerEntry, Part

if TYPE_CHECKING:
    Base = admin.ModelAdmin[Any]
else:
    Base = admin.ModelAdmin


class ReadOnlyAdmin(Base):
    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False


@admin.register(LedgerEntry)
class LedgerEntryAdmin(ReadOnlyAdmin):
    list_display = ("id", "at", "branch", "part", "kind", "quantity", "cents", "balance_quantity")
    list_filter = ("kind", "branch")
    list_select_related = ("branch", "part")
    show_full_result_count = False


@admin.register(Part)
class PartAdmin(ReadOnlyAdmin):
    list_display = ("code", "description", "kind", "grade", "is_active")
    search_fields = ("code", "description")
