"""A worker for the tests: what was asked for is done here, one task after the other, as `manage.py work` does it."""

from __future__ import annotations

from typing import Any, cast

from django_tasks import TaskContext
from django_tasks_db.models import DBTaskResult


def work(name: str = "elsewhere:1:1", *, most: int = 1_000) -> int:
    """Do what is ready, at most so many tasks; how many were done."""
    done = 0
    while done < most and (row := DBTaskResult.objects.ready().first()):
        row.claim(name)
        given = row.args_kwargs["kwargs"]
        context = [TaskContext(task_result=cast(Any, row.task_result))] if row.task.takes_context else []
        row.set_successful(row.task.call(*context, **given))
        done += 1
    return done
