// Prices with their units.
#include "io/price.hpp"

#include "mesh/error.hpp"

#include <doctest/doctest.h>

using namespace tidemark;

TEST_CASE("price: per area, mass or volume, in SI") {
  const Price area = parse_price("3.20 per m2", {Dimension::area, Dimension::mass});
  CHECK(area.amount == doctest::Approx(3.2));
  CHECK(area.per == Dimension::area);
  const Price mass = parse_price("4/lb", {Dimension::area, Dimension::mass});
  CHECK(mass.amount == doctest::Approx(4 / 0.45359237)); // the pound of 1959, exact
  CHECK(mass.per == Dimension::mass);
  const Price volume = parse_price("5 / L", {Dimension::mass, Dimension::volume});
  CHECK(volume.amount == doctest::Approx(5000));
  CHECK(volume.per == Dimension::volume);
  CHECK(parse_price("0 per kg", {Dimension::mass}).amount == 0);
}

TEST_CASE("price: anything else is refused") {
  for (const char* text : {"", "3.20", "per m2", "3 EUR/m2", "3 m2", "3 per m", "3 per",
                           "3 per 2 m2", "3,5 per m2", "3 perm2", "nan per m2", "3 per m3"}) {
    CAPTURE(text);
    CHECK_THROWS_WITH_AS(parse_price(text, {Dimension::area, Dimension::mass}),
                         doctest::Contains("expected a price such as \"3.20 per m2\" or \"4.10 per "
                                           "kg\""),
                         InputError);
  }
  for (const char* text : {"-1 per m2", "2e9 per kg", "1e300 per mm2"}) {
    CHECK_THROWS_WITH_AS(parse_price(text, {Dimension::area, Dimension::mass}),
                         doctest::Contains("expected a price of 0 or more"), InputError);
  }
}
