"""Lives with covariates."""

from __future__ import annotations

from typing import Any

import pandas as pd
import polars as pl
import pytest
import relamp


def test_covariates_come_from_dicts_and_frames_of_every_kind() -> None:
    columns: dict[str, Any] = {"supplier": ["n", "s", "n"], "current": [80, 75, 80]}
    one = relamp.lives([900.0, 900.0, 900.0], covariates=columns)
    assert (one.rows, one.lamps, one.covariates) == (2, 3, {"current": "number", "supplier": "category"})
    assert one == relamp.lives([900.0] * 3, covariates=pl.DataFrame(columns))
    assert one == relamp.lives([900.0] * 3, covariates=pd.DataFrame(columns))
    whole = {"low": [900.0] * 3, "high": [900.0] * 3, **columns}
    for table in (whole, pl.DataFrame(whole), pd.DataFrame(whole)):
        assert one == relamp.lives(table, covariates=["supplier", "current"])
    assert one.frame()["supplier"].to_list() == ["s", "n"]
    assert relamp.Tally.from_json(one.to_json()) == one
    assert relamp.Tally.merge(one, one).lamps == 6
    texts = relamp.lives([900.0] * 3, covariates={"batch": ["12", "13", "12"]})
    assert texts.covariates == {"batch": "category"}


def test_bad_covariates_are_refused_by_row() -> None:
    def caught(**arguments: Any) -> relamp.InputError:
        with pytest.raises(relamp.InputError) as error:
            relamp.lives([900.0, -1.0], **arguments)
        return error.value

    error = caught(covariates={"current": [float("nan"), 70.0], "supplier": ["n", None]})
    found = [(p.slug, p.row, p.column) for p in error.problems]
    assert ("lives.covariate_not_finite", 1, "current") in found
    assert ("lives.covariate_missing", 2, "supplier") in found
    assert ("lives.age_negative", 2, "low") in found
    assert caught(covariates={"low": [1.0, 2.0]}).slug == "lives.covariate_name"
    assert caught(covariates=[1.0, 2.0]).slug == "python.not_a_table"
    table = {"low": [1.0], "high": [1.0], "supplyer": ["n"]}
    with pytest.raises(relamp.InputError, match="column_unknown"):
        relamp.lives(table)
    with pytest.raises(relamp.InputError, match="column_missing"):
        relamp.lives(table, covariates=["supplyer", "supplier"])
    with pytest.raises(relamp.InputError, match="covariates"):
        relamp.lives(table, covariates="supplyer")
    one = relamp.lives([1.0], covariates={"supplier": ["n"]})
    with pytest.raises(relamp.InputError, match="covariates_differ"):
        relamp.Tally.merge(one, relamp.lives([1.0]))


@pytest.mark.parametrize("ties", [False, True])
@pytest.mark.parametrize("strata", [False, True])
