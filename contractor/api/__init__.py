"""What all API views share. How an app adds an endpoint, in one page:

    class KitSerializer(StrictModelSerializer[Kit]):
        branch = ScopedKeyField(Branch.objects.all(), branch_path="pk")
        length = LengthField(source="length_ticks", positive=True)

        class Meta:
            model = Kit
            fields = ["id", "branch", "length", "status", "version", "created_at"]
            read_only_fields = ["status", "version"]

    class KitViewSet(Creates, Changes, BranchViewSet):
        queryset = Kit.objects.select_related("branch")
        serializer_class = KitSerializer
        branch_path = "branch"              # "job__site__branch" for what hangs deeper
        area = "inventory"                  # token scopes inventory:read, inventory:write
        filterset_fields = ("status", "branch")
        access = {"list": EVERYONE, "retrieve": EVERYONE, "create": OFFICE,
                  "partial_update": OFFICE, "reserve": WAREHOUSE}

        def create_row(self, values):
            return services.open_kit(**values)

        def change_row(self, row, values, if_match):
            return services.change_kit(row.pk, values, if_match)

        @command(body=ReserveSerializer)    # POST /kits/17/reserve
        def reserve(self, order):
            return services.reserve_kit(order.row.pk, if_match=order.if_match, **order.values)

and in ``<app>/api/urls.py`` a ``SimpleRouter(trailing_slash=False)`` whose urls are
``urlpatterns``. Services carry ``@service`` (``contractor.api.transactions``), lock the row,
call ``row.expect_version(if_match)``, write, and record an event. An action that ``access``
does not name is refused to everybody, and the permission matrix test fails.
"""
