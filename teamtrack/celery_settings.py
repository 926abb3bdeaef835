"""Celery's settings, read lazily so that a bare checkout needs neither broker nor folders."""

from pathlib import Path

from django.conf import settings

SWEEP_EVERY_S = 5.0
HEARTBEAT_EVERY_S = 2.0
SIGN_LOG_EVERY_S = 600.0
LOOK_FOR_NIGHT_EVERY_S = 300.0

if settings.REDIS_URL:
    broker_url = settings.REDIS_URL
    broker_transport_options = {
        "visibility_timeout": 3600,
        "socket_connect_timeout": 1,
        "max_retries": 1,
        "interval_start": 0,
    }
else:
    _queue = Path(settings.DATA_DIR) / "queue"
    _messages, _control = _queue / "messages", _queue / "control"
    for _folder in (_messages, _control):
        _folder.mkdir(parents=True, exist_ok=True)
    broker_url = "filesystem://localhost"
    broker_transport_options = {
        "data_folder_in": str(_messages),
        "data_folder_out": str(_messages),
        "control_folder": str(_control),
        "polling_interval": 0.2,
    }

task_acks_late = task_reject_on_worker_lost = task_ignore_result = True
worker_prefetch_multiplier = 1
task_serializer = "json"
accept_content = ["json"]
task_default_queue = "default"
task_routes = {
    "training.solve_proposal": {"queue": "solve"},
    "training.rehearse_season": {"queue": "solve"},
}
broker_connection_retry_on_startup = True
worker_hijack_root_logger = False
beat_schedule = {
    "sweep-jobs": {"task": "common.sweep_jobs", "schedule": SWEEP_EVERY_S},
    "begin-nights": {"task": "athletes.begin_nights", "schedule": LOOK_FOR_NIGHT_EVERY_S},
    "sign-access-log": {"task": "athletes.sign_access_log", "schedule": SIGN_LOG_EVERY_S},
}
