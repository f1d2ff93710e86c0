"""The doorbell. Messages carry no data: the database decides what there is to do (reliability.md, B1)."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")
app = Celery("service_center")
