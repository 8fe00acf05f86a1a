"""Addresses of the reception."""

from __future__ import annotations

from django.urls import path

from cubital.desk.reception import again, phone, register, specimen, strangers, tray

urlpatterns = [
    path("reception/", tray.tray, name="reception"),
    path("reception/scan/", tray.scan, name="reception-scan"),
    path("reception/open/", specimen.find, name="reception-open"),
    path("reception/phone/", phone.phone, name="reception-phone"),
    path("reception/phone/told/", phone.told, name="reception-told"),
    path("reception/again/<str:code>/end/", again.end, name="again-end"),
    path("reception/register/", register.register, name="reception-register"),
    path("reception/register/asked/", register.asked, name="reception-register-asked"),
    path("reception/unknown/<int:pk>/", strangers.one, name="reception-stranger"),
    path("reception/unknown/<int:pk>/settle/", strangers.settle, name="reception-stranger-settle"),
    path("reception/specimens/<str:code>/", specimen.page, name="reception-specimen"),
    path("reception/specimens/<str:code>/look/", specimen.look, name="reception-look"),
    path("reception/specimens/<str:code>/decide/", specimen.settle, name="reception-decide"),
    path("reception/specimens/<str:code>/label.pdf", specimen.label, name="reception-label"),
    path("reception/specimens/<str:code>/here/", specimen.take_over, name="reception-take-over"),
]
