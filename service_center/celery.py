"""The doorbell and the clock. Messages carry no data: the database decides what there is to do (reliability.md, B1).

Any task may run not at all, twice, late or beside itself. Start a worker with
`celery -A service_center worker --without-gossip --without-mingle --without-heartbeat`, and one clock with
`celery -A service_center beat`; `serve` runs both as threads of the web's process.
"""

import os
from typing import Any

from celery import Celery
from django.conf import settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "service_center.settings")

_redis = settings.BROKER_URL.startswith(("redis", "sentinel"))
# Without these a worker on a connection that died silently hangs for good (measured: reliability.md, 0.2).
_REDIS_WAITS: dict[str, Any] = {
    "visibility_timeout": 900,
    "unacked_restore_interval": 10,
    "unacked_restore_throttle": 1,
    "socket_timeout": 5,
    "socket_connect_timeout": 3,
    "socket_keepalive": True,
    "health_check_interval": 10,
}
_WAITS: dict[str, Any] = _REDIS_WAITS if _redis else {"polling_interval": 0.05}
# For whoever rings while a person waits for a page.
SHORT_WAITS: dict[str, Any] = {**_WAITS, "socket_timeout": 1, "socket_connect_timeout": 1} if _redis else _WAITS

app = Celery(
    "service_center",
    include=[
        "service_center.letters.tasks",
        "service_center.owner_pages.tasks",
        "service_center.planning.tasks",
    ],
)
app.conf.update(
    broker_url=settings.BROKER_URL,
    broker_transport_options=_WAITS,
    visibility_timeout=900,
    broker_connection_retry_on_startup=True,
    broker_connection_max_retries=None,
    # No results: nothing to lose, and no third place that could disagree.
    result_backend=None,
    task_ignore_result=True,
    # A ring is acknowledged before its work: lost, it costs half a minute; repeated, it would cost a connection.
    task_acks_late=False,
    task_time_limit=600,
    # None: a soft limit raises anywhere, also between the dot and the reply. The sender stops itself between letters.
    task_soft_time_limit=None,
    worker_prefetch_multiplier=1,
    worker_disable_prefetch=_redis,
    worker_eta_task_limit=100,
    worker_soft_shutdown_timeout=30,
    worker_enable_soft_shutdown_on_idle=True,
    worker_max_tasks_per_child=500,
    worker_cancel_long_running_tasks_on_connection_loss=False,
    worker_hijack_root_logger=False,
    timezone="UTC",
    beat_schedule_filename=str(settings.DATA_DIR / "beat-schedule"),
    # The whole timetable. A tick that nobody took is worth nothing once the next is here.
    beat_schedule={
        "tick": {"task": "letters.tick", "schedule": 30.0, "options": {"expires": 30}},
        "weeks": {"task": "planning.tick", "schedule": 30.0, "options": {"expires": 30}},
        "notices": {"task": "owner_pages.send_notices", "schedule": 30.0, "options": {"expires": 30}},
        "rehearse": {"task": "letters.rehearse", "schedule": 30.0, "options": {"expires": 30}},
        "count_ahead": {"task": "letters.count_ahead", "schedule": 3600.0, "options": {"expires": 3600}},
        "count_answers": {"task": "letters.count_answers", "schedule": 3600.0, "options": {"expires": 3600}},
        "forget": {"task": "letters.forget", "schedule": 3600.0, "options": {"expires": 3600}},
        "put_away": {"task": "owner_pages.put_away", "schedule": 3600.0, "options": {"expires": 3600}},
        "plan_weeks": {"task": "planning.plan_weeks", "schedule": 30.0, "options": {"expires": 30}},
    },
)
