"""Builds on a real Dask scheduler with two workers on this machine, one of which is killed on the way."""

from __future__ import annotations

import os
import signal
from typing import Any

import pytest
from tests.trials.bench_chart import bench_chart, bench_project, ledger, source

from handfast.model.trial import Build
from handfast.trials.cluster import ClusterError, on_cluster
from handfast.trials.trial import Ways, trial

distributed: Any = pytest.importorskip("distributed")

ERRORS = (source("holder.nest", 3e-4, changes="shift"), source("touch.right", 1e-5))


def test_a_lost_worker_loses_no_build() -> None:
    project = bench_project(*ERRORS)
    chart = bench_chart(project)
    here = trial(project, chart, ledger(), builds=12, seed=11)
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None
    ) as cluster:
        with distributed.Client(cluster, set_as_default=False) as looking:
            workers = looking.run(os.getpid)
        assert len(workers) == 2
        done: list[int] = []

        def kill_one(build: Build) -> None:
            done.append(build.number)
            if build.number == 2:
                os.kill(next(iter(workers.values())), signal.SIGKILL)

        ways = Ways(each=on_cluster(cluster.scheduler_address), keep=kill_one)
        there = trial(project, chart, ledger(), builds=12, seed=11, ways=ways)
    assert there == here
    assert done == list(range(12))


def test_a_scheduler_that_is_not_there_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("handfast.trials.cluster._CONNECT_S", 0.5)
    with pytest.raises(ClusterError, match=r"expected a Dask scheduler at tcp://127.0.0.1:9, found none"):
        on_cluster("tcp://127.0.0.1:9")
