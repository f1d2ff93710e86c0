"""Addresses of the bench: what is measured at a piece, and what the house sets for it."""

from django.urls import URLPattern, path

from service_center.bench.orders.views import one_hand, order, orders, queue, reception
from service_center.bench.views import house, papers, sheets, tightness

app_name = "bench"
OF_A_PIECE = "pieces/<int:pk>"
urlpatterns: list[URLPattern] = [
    path(f"{OF_A_PIECE}/measurements/", sheets.measurements, name="measurements"),
    path(f"{OF_A_PIECE}/measurements/new/", sheets.new_sheet, name="new_sheet"),
    path(f"{OF_A_PIECE}/measurements/compare/", sheets.compare, name="compare"),
    path(f"{OF_A_PIECE}/measurements/<int:sheet>/", sheets.sheet, name="sheet"),
    path(f"{OF_A_PIECE}/measurements/<int:sheet>/lift-angle/", sheets.correct_lift_angle, name="correct_lift_angle"),
    path(f"{OF_A_PIECE}/tightness/", tightness.tightness, name="tightness"),
    path(f"{OF_A_PIECE}/reserve/", tightness.reserve, name="reserve"),
    path(f"{OF_A_PIECE}/service-report/<int:drop_off>/", papers.service_report, name="service_report"),
    path("bench/", house.bench_settings, name="settings"),
    path("bench/calibres/<int:pk>/", house.judging, name="judging"),
    path("bench/files/new/", house.new_machine_file, name="new_machine_file"),
    path("bench/files/<int:pk>/", house.machine_file, name="machine_file"),
    path("bench/chronometer/", house.chronometer, name="chronometer"),
    path("at-the-bench/", queue.queue, name="queue"),
    path("at-the-bench/<str:number>/finish/", queue.finish, name="finish"),
    path("at-the-bench/<str:number>/take-back/", queue.take_back, name="take_back"),
    path("at-the-bench/<str:number>/take/", queue.take, name="take"),
    path("at-the-bench/<str:number>/move/", queue.move, name="move"),
    path("at-the-bench/<str:number>/readings/", one_hand.one_hand, name="one_hand"),
    path("reception/", reception.reception, name="reception"),
    path("orders/", orders.orders, name="orders"),
    path("orders/<str:number>/", order.order, name="order"),
    path("orders/<str:number>/estimate/", order.estimate, name="estimate"),
    path("orders/<str:number>/estimates/<int:pk>/", order.estimate_paper, name="estimate_paper"),
]
