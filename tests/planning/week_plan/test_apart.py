"""The solver stays out of every process that serves pages or sends letters."""

import os
import subprocess
import sys
from collections.abc import Callable
from datetime import date

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

LOADS = """
import sys, django
django.setup()
from django.urls import get_resolver
get_resolver().url_patterns
import service_center.wsgi, service_center.celery
service_center.celery.app.loader.import_default_modules()
assert "service_center.planning.tasks" in sys.modules
print("ortools" in sys.modules)
"""


def test_pages_and_worker_do_not_load_the_solver() -> None:
    env = {**os.environ, "DJANGO_SETTINGS_MODULE": "service_center.settings"}
    said = subprocess.run(
        [sys.executable, "-c", LOADS], check=True, capture_output=True, text=True, env=env, cwd=settings.BASE_DIR
    )
    assert said.stdout.split() == ["False"]


@pytest.mark.django_db
def test_a_page_of_a_week_costs_the_same_number_of_statements_whatever_is_in_it(
    signed_in: Callable[..., Client], django_assert_max_num_queries: Callable[..., object]
) -> None:
    client = signed_in("desk")
    with django_assert_max_num_queries(20):
        assert client.get(reverse("planning:week_plan", args=[date(2026, 3, 9)])).status_code == 200
