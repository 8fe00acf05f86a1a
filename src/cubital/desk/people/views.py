"""Sign-in, sign-out, the place one works at, and the pages that say no."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth import views as auth_views
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.views.decorators.http import require_GET, require_POST

from cubital.desk.demo.badges import PIN
from cubital.desk.demo.valley import PASSWORD, PEOPLE
from cubital.desk.people.door import guarded
from cubital.desk.people.forms import SignInForm
from cubital.desk.people.here import KEY
from cubital.desk.people.who import EVERY_ROLE, anyone, who_may
from cubital.desk.record import selectors


class SignIn(auth_views.LoginView):
    """Name and password."""

    template_name = "people/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: object) -> dict[str, object]:
        """Say who may sign in, in the demo only."""
        demo = {"demo_people": PEOPLE, "demo_password": PASSWORD, "demo_pin": PIN}
        demo = demo if settings.DEMO else {}
        return super().get_context_data(**kwargs) | demo


sign_in = anyone(guarded(SignIn.as_view()))
sign_out = anyone(auth_views.LogoutView.as_view(next_page=settings.LOGIN_URL))


@require_POST
@who_may(*EVERY_ROLE, without_place=True)
def choose_place(request: HttpRequest) -> HttpResponse:
    """Work at another place from now on."""
    code = request.POST.get("place", "")
    if selectors.place_by_code(code) is not None:
        request.session[KEY] = code
    return redirect("day")


@require_GET
@anyone
def here(request: HttpRequest) -> HttpResponse:
    """
    Whether a form would be taken now: 204, or 401 signed out; a locked screen answers 423.

    The header ``X-Here`` tells a page whether it was made for whoever is signed in now.
    """
    if not request.user.is_authenticated:
        return HttpResponse(status=401)
    return HttpResponse(status=204, headers={"X-Here": str(request.user.pk)})


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Say that there is no such page."""
    return render(request, "people/not_found.html", status=404)


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Say that this is for another role."""
    return render(request, "people/forbidden.html", status=403)


def broken(request: HttpRequest) -> HttpResponse:
    """Say that the desk itself failed, without asking anything that may have failed with it."""
    return HttpResponse(render_to_string("people/broken.html"), status=500)


def csrf_failed(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Say that a form came from elsewhere or is too old."""
    return render(request, "people/csrf_failed.html", status=403)
