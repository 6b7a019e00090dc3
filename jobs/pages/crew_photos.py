"""Photos on the crew's phone: taken in, and given out to people of the branch only."""

from __future__ import annotations

from django.core.files.uploadedfile import UploadedFile
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.views.decorators.http import require_GET, require_POST

from jobs.errors import PictureError
from jobs.models import InstallRecord, Job, Photo
from jobs.pages import crew_forms
from jobs.pages.common import takes_photos
from jobs.pages.crew import crew_only, find_job, install_of, record_page, see_other, send_once
from jobs.pages.inputs import Form, sentence
from jobs.services import photos


@takes_photos
@require_POST
@crew_only
def add(request: HttpRequest, branches: list[int], job_pk: int) -> HttpResponse:
    """Take in one photo; its place is removed before it is kept."""
    job = find_job(branches, job_pk)
    install = install_of(job)
    form = crew_forms.photo_form(list(install.braces.order_by("pk")))
    form.keep_typed(request.POST.dict())
    _keep(request, job, install, form)
    if form.is_refused:
        return record_page(request, job, photo_form=form, status=400)
    return see_other(f"/crew/jobs/{job.pk}?saved=photo")


def _keep(request: HttpRequest, job: Job, install: InstallRecord, form: Form) -> None:
    upload, chosen = request.FILES.get("photo"), form.inputs[1]
    if chosen.value not in {value for value, _ in chosen.choices}:
        chosen.error = "Choose one of these."
    if not isinstance(upload, UploadedFile):
        form.inputs[0].error = "Choose a photo first."
    if form.is_refused or not isinstance(upload, UploadedFile):
        return
    try:
        picture = photos.read_picture(upload, upload.size or 0, job.site.time_zone)
    except PictureError as refusal:
        form.inputs[0].error = sentence(refusal)
        return
    key = int(chosen.value) if chosen.value else None
    form.errors += send_once(
        request, lambda: photos.add_photo(install.pk, picture=picture, brace_pk=key)
    )


@crew_only
@require_GET
def show(request: HttpRequest, branches: list[int], photo_pk: int, size: str) -> FileResponse:
    """Give out a photo ("full") or its thumbnail ("small") under a name that says nothing."""
    photo = Photo.objects.filter(pk=photo_pk, install__branch__in=branches).first()
    if photo is None or size not in {"full", "small"}:
        raise Http404
    file = photo.file if size == "full" else photo.thumbnail
    response = FileResponse(file.open("rb"), content_type="image/jpeg")
    response["Content-Disposition"] = f'inline; filename="photo-{photo.pk}.jpg"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = "private, no-store"
    return response
