"""Addresses of this app under /api/v1/."""

from __future__ import annotations

from django.urls import path
from rest_framework.routers import SimpleRouter

from contractor.api.examples import add_examples
from inventory.api import kit_views, movement_views, plan_views, report_views, views
from inventory.api.examples import EXAMPLES

add_examples(EXAMPLES)

router = SimpleRouter(trailing_slash=False)
router.register("parts", views.PartViews, basename="part")
router.register("suppliers", views.SupplierViews, basename="supplier")
router.register("supplier-prices", views.SupplierPriceViews, basename="supplier-price")
router.register("reorder-rules", views.ReorderRuleViews, basename="reorder-rule")
router.register("bins", views.BinViews, basename="bin")
router.register("lots", views.LotViews, basename="lot")
router.register("stock-levels", views.StockLevelViews, basename="stock-level")
router.register("stock-lengths", views.StockLengthViews, basename="stock-length")
router.register("offcuts", views.OffcutViews, basename="offcut")
router.register("ledger", views.LedgerViews, basename="ledger-entry")
router.register("receipts", movement_views.ReceiptViews, basename="receipt")
router.register("supplier-orders", movement_views.SupplierOrderViews, basename="supplier-order")
router.register("counts", movement_views.CountViews, basename="count")
router.register("transfers", movement_views.TransferViews, basename="transfer")
router.register(
    "incoming-transfers", movement_views.IncomingTransferViews, basename="incoming-transfer"
)
router.register("reservations", movement_views.ReservationViews, basename="reservation")
router.register("kits", kit_views.KitViews, basename="kit")
router.register("cutting-plans", plan_views.CuttingPlanViews, basename="cutting-plan")

urlpatterns = [
    path("stock", report_views.StockView.as_view(), name="stock"),
    path("available-to-promise", report_views.PromiseView.as_view(), name="promise"),
    path("order-suggestions", report_views.SuggestionView.as_view(), name="order-suggestions"),
    path("reorder-points", report_views.ReorderPointView.as_view(), name="reorder-points"),
    path("saw-report", report_views.SawReportView.as_view(), name="saw-report"),
    path("stock-check", report_views.StockCheckView.as_view(), name="stock-check"),
    *router.urls,
]
