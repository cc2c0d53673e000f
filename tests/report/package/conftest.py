"""One package of the small job for all tests that only read it."""

import pytest
from package_scene import MADE, make_job

from analyzer.cli.main import outcome


@pytest.fixture(scope="session")
def job_folder(tmp_path_factory):
    return make_job(tmp_path_factory.mktemp("job") / "hall")


@pytest.fixture(scope="session")
def package(job_folder, tmp_path_factory):
    place = tmp_path_factory.mktemp("package") / "hall"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", MADE)
        assert outcome(["closeout", str(job_folder), "-o", str(place)]) == 0
    return place
