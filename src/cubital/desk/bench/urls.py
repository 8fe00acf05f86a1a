"""Addresses of the bench."""

from __future__ import annotations

from django.urls import path

from cubital.desk.bench import (
    added,
    board,
    divide,
    load,
    machines,
    portions,
    runs,
    specimen,
    storage,
)

urlpatterns = [
    path("bench/", board.board, name="bench"),
    path("bench/open/", specimen.find, name="bench-open"),
    path("bench/runs/", runs.runs, name="bench-runs"),
    path("bench/runs/<str:code>/", load.run_page, name="bench-run"),
    path("bench/runs/<str:code>/end/", load.end, name="bench-run-end"),
    path("bench/boxes/<str:code>/expect/", runs.expect, name="bench-expect"),
    path("bench/load/<str:code>/", load.load, name="bench-load"),
    path("bench/load/<str:code>/scan/", load.add, name="bench-load-scan"),
    path("bench/load/<str:code>/early/", load.early, name="bench-load-early"),
    path("bench/load/<str:code>/begin/", load.begin, name="bench-begin"),
    path("bench/portions/", divide.portions_page, name="bench-portions"),
    path("bench/storage/", storage.storage, name="bench-storage"),
    path("bench/storage/scan/", storage.scan, name="bench-storage-scan"),
    path("bench/storage/discard/", storage.discard_group, name="bench-discard-group"),
    path("bench/storage/shelves/<str:code>/", storage.shelf_page, name="bench-shelf"),
    path("bench/machines/", machines.machines, name="bench-machines"),
    path("bench/machines/add/", machines.add, name="bench-machine-add"),
    path("bench/machines/take-over/", machines.take_over, name="bench-machine-take-over"),
    path("bench/machines/shelves/add/", machines.shelf_add, name="bench-shelf-add"),
    path("bench/machines/shelves/<int:pk>/", machines.shelf_remove, name="bench-shelf-remove"),
    path("bench/machines/<int:pk>/", machines.machine, name="bench-machine"),
    path("bench/machines/<int:pk>/order/", machines.order, name="bench-machine-order"),
    path("bench/machines/<int:pk>/remove/", machines.remove, name="bench-machine-remove"),
    path("bench/add-on/<path:number>/take/", added.take, name="bench-add-take"),
    path("bench/add-on/<path:number>/", added.add_page, name="bench-add"),
    path("bench/specimens/<str:code>/", specimen.page, name="bench-specimen"),
    path("bench/specimens/<str:code>/measured/", specimen.measure, name="bench-measured"),
    path("bench/specimens/<str:code>/store/", specimen.store, name="bench-store"),
    path("bench/specimens/<str:code>/take-out/", specimen.take_out, name="bench-take-out"),
    path("bench/specimens/<str:code>/discard/", specimen.discard, name="bench-discard"),
    path("bench/specimens/<str:code>/divide/", divide.divide_page, name="bench-divide"),
    path("bench/specimens/<str:code>/divide/make/", divide.make, name="bench-make"),
    path("bench/specimens/<str:code>/divide/again/", divide.ask_again, name="bench-ask-again"),
    path("bench/specimens/<str:code>/portions/", portions.portions_of, name="bench-portions-of"),
    path("bench/specimens/<str:code>/portions/labels.pdf", portions.print_portions,
         name="bench-portion-labels"),
    path("bench/specimens/<str:code>/portions/scan/", portions.confirm, name="bench-confirm"),
]  # fmt: skip
