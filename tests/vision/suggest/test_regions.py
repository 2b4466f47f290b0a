import numpy as np
import pytest

from vision.suggest.regions import median_of, regions_of


@pytest.mark.parametrize("count", [1, 2, 3, 50, 1999, 2000, 40_001])
@pytest.mark.parametrize("kind", ["spread", "one value", "two values", "in order", "a sample that misleads"])
def test_the_median_is_numpys(count, kind):
    rng = np.random.default_rng(count)
    values = {
        "spread": rng.normal(60, 10, count),
        "one value": np.full(count, 7.0),
        "two values": rng.choice([1.0, 2.0], count),
        "in order": np.linspace(0, 1, count),
        "a sample that misleads": np.where(np.arange(count) % max(1, count // 1000) == 0, 100.0, 1.0),
    }[kind].astype(np.float32)
    assert median_of(values) == float(np.median(values))


@pytest.mark.parametrize("connectivity", [4, 8])
def test_regions_are_where_the_mask_has_them(connectivity):
    """Also in masks larger than 16 bits of labels, and beside rows and columns that are empty."""
    for rows, columns in ((40, 60), (700, 900)):
        mask = np.zeros((rows, columns), np.bool_)
        mask[7:10, 21:40] = mask[30:33, 5:9] = mask[33:35, 9:11] = True
        regions = list(regions_of(mask, 2, connectivity))
        again = np.zeros_like(mask)
        for region in regions:
            again[region.window] |= region.patch
        assert np.array_equal(again, mask)
        assert [region.area for region in regions] == ([57, 12, 4] if connectivity == 4 else [57, 16])


def test_an_empty_mask_has_no_regions_and_small_ones_are_left_out():
    mask = np.zeros((30, 50), np.bool_)
    assert list(regions_of(mask)) == []
    mask[3, 4] = mask[20:24, 30:36] = True
    assert [region.area for region in regions_of(mask, 2)] == [24]
