"""Quotes side by side: landed unit costs worked by hand, and laws that hold for any offer."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.ordering.offers import quote
from planner.ordering.problem import Offer, PriceStep, Supplier
from planner.report.orders.purchase_orders import pack_price
from planner.report.wording import Wording

STEPS = (PriceStep(1, 10.0), PriceStep(11, 8.0))


def offer(pack=1.0, pallet=None, least=1, steps=STEPS, name="O", incremental=False):
    return Offer(name, "S", "bins", "m", "m", pack, pallet, least, None, incremental, steps)


def supplier(delivery=0.0, pallet=0.0):
    return Supplier("S", "Works (invented)", 0.0, delivery, pallet)


def test_a_price_break_freight_pallets_and_losses_by_hand():
    # twice 45 usable of which a tenth is lost: 50, so 9 packs of 6; 4 are over, then 8 do
    # neither order reaches the second price; both are on two pallets of five each
    one = quote(offer(6.0, 5), supplier(20.0, 3.0), [45.0, 45.0], 0.1)
    assert (one.packs_counts, one.goods_amount) == ((9, 8), 17 * 10.0)
    assert one.freight_amount == 2 * 20.0 + 4 * 3.0
    assert one.landed_unit_cost == pytest.approx((170.0 + 52.0) / 90.0)
    # in one order all 17 have the second price, on four pallets
    assert one.whole_amount == 17 * 8.0 + 20.0 + 4 * 3.0


def test_worms_left_over_do_not_count_for_the_next_delivery():
    worms = Offer("O", "S", "worms", "worms", "w", 5.0, None, 1, None, False, STEPS)
    assert quote(worms, supplier(), [6.0, 6.0], 0.0).packs_counts == (2, 2)
    assert quote(offer(5.0), supplier(), [6.0, 4.0], 0.0).packs_counts == (2,)


def test_deliveries_below_a_least_order_are_counted():
    works = Supplier("S", "Works (invented)", 60.0, 0.0, 0.0)
    assert quote(offer(), works, [5.0, 7.0, 6.0], 0.0).below_least_count == 1


def test_an_incremental_break_charges_the_first_packs_at_the_first_price():
    one = quote(offer(incremental=True), supplier(), [17.0], 0.0)
    assert one.goods_amount == 10 * 10.0 + 7 * 8.0


def test_an_offer_takes_no_fewer_packs_than_its_least():
    assert quote(offer(least=40), supplier(), [3.0], 0.0).packs_count == 40


def test_a_dear_pack_without_freight_may_beat_a_cheap_one_with_it():
    near = offer(steps=(PriceStep(1, 12.0),), name="near")
    far = offer(steps=(PriceStep(1, 10.0),), name="far")
    few = [quote(far, supplier(50.0), [10.0], 0.0), quote(near, supplier(), [10.0], 0.0)]
    assert few[1].landed_unit_cost < few[0].landed_unit_cost
    many = [quote(near, supplier(), [100.0], 0.0), quote(far, supplier(50.0), [100.0], 0.0)]
    assert many[1].landed_unit_cost < many[0].landed_unit_cost


def test_what_a_large_pack_brings_beyond_the_need_makes_it_no_cheaper():
    # ten are needed: two packs of eight cost 144, ten single ones 100; 144 / 16 would be less
    large = offer(8.0, steps=(PriceStep(1, 72.0),), name="large")
    single = offer(steps=(PriceStep(1, 10.0),), name="single")
    both = [quote(one, supplier(), [10.0], 0.0) for one in (single, large)]
    assert [one.landed_unit_cost for one in both] == [10.0, 14.4]


@settings(deadline=None, max_examples=60)
@given(st.floats(1.0, 5000.0), st.floats(0.5, 50.0), st.floats(0.0, 0.4), st.integers(1, 5))
def test_what_is_usable_is_enough_and_a_loss_never_makes_it_cheaper(need, pack, lost, count):
    whole = quote(offer(pack, 10), supplier(20.0, 5.0), [need / count] * count, 0.0)
    less = quote(offer(pack, 10), supplier(20.0, 5.0), [need / count] * count, lost)
    for one in (whole, less):
        assert one.usable_quantity >= need * (1.0 - 1e-9)
        assert one.packs_count * pack <= need / (1.0 - one.lost_share) + pack + 1e-6
        assert len(one.packs_counts) <= count
        # a price that only falls and a freight that is shared make one order no dearer
        assert one.whole_amount <= one.landed_amount + 1e-6
        assert math.isclose(one.landed_amount, one.goods_amount + one.freight_amount)
    assert less.packs_count >= whole.packs_count


@pytest.mark.parametrize(
    ("without", "packs", "words"),
    [
        (76.0, 8, "£9.50"),
        # £11.50 with 21% of tax in it is 9.50413...: eight at 9.50 would be three pence short
        (76.03, 8, "£9.5038"),
        (100.0, 3, "£33.3333"),
        (9.5, 1, "£9.50"),
    ],
)
def test_packs_times_the_price_on_the_order_is_the_amount_on_the_order(without, packs, words):
    cell = pack_price(Wording("en_GB", "GBP"), without, packs)
    assert cell.words == words
    assert round(cell.value * packs, 2) == without


def test_packs_at_prices_of_their_own_are_told_apart():
    # from the eleventh on a pack costs 8: twenty are ten at each price
    assert offer(incremental=True).parts(20) == [(10, 10.0), (10, 8.0)]
    assert offer(incremental=True).parts(10) == [(10, 10.0)]
    assert offer().parts(20) == [(20, 8.0)]
