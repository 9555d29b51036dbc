// What shear does to fibre volume fraction and permeability.
#include "solver/sheared_fabric.hpp"

#include "tests/support/closeness.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <numbers>

using namespace tidemark;
using std::numbers::pi;
using tidemark::test::relative_error;

namespace {

constexpr double degree = pi / 180;

double kozeny_carman_ratio(double from, double to) {
  return std::pow((1 - to) / (1 - from), 3) * std::pow(from / to, 2);
}

} // namespace

TEST_CASE("sheared fabric: Vf = Vf0 / cos(shear), 0.45 at 15, 30 and 45 degrees") {
  // By hand; and what Kozeny and Carman make of it.
  CHECK(relative_error(sheared_volume_fraction(0.45, 15 * degree), 0.46587428) < 1e-7);
  CHECK(relative_error(sheared_volume_fraction(0.45, 30 * degree), 0.51961524) < 1e-7);
  CHECK(relative_error(sheared_volume_fraction(0.45, -45 * degree), 0.63639610) < 1e-7);
  const auto ratio = [](double shear) {
    return kozeny_carman_ratio(0.45, sheared_volume_fraction(0.45, shear * degree));
  };
  CHECK(ratio(15) == doctest::Approx(0.854535).epsilon(2e-6));
  CHECK(ratio(30) == doctest::Approx(0.499736).epsilon(2e-6));
  CHECK(ratio(45) == doctest::Approx(0.144467).epsilon(5e-6));
}

TEST_CASE("sheared fabric: the shear between two directions, positive where they have closed up") {
  const Vector3 warp(2, 0, 0);
  CHECK(shear_angle(warp, {0, 0, 3}) == doctest::Approx(0).epsilon(1e-15));
  CHECK(shear_angle(warp, {std::cos(pi / 3), std::sin(pi / 3), 0}) == doctest::Approx(pi / 6));
  CHECK(shear_angle(warp, {-std::cos(pi / 3), 0, std::sin(pi / 3)}) == doctest::Approx(-pi / 6));
  CHECK(shear_angle(warp, warp) == doctest::Approx(pi / 2));
}

TEST_CASE("sheared fabric: without shear nothing changes") {
  for (const double angle : {-1.2, 0.0, 0.4, pi / 2}) {
    const ShearedPermeability same = sheared_permeability(3e-9, 1e-9, angle, 0);
    CHECK(relative_error(same.permeability_1, 3e-9) < 1e-14);
    CHECK(relative_error(same.permeability_2, 1e-9) < 1e-14);
    CHECK(same.angle == doctest::Approx(angle));
  }
  CHECK(sheared_permeability(1e-9, 3e-9, 0, 0).angle == doctest::Approx(pi / 2));
  CHECK(sheared_permeability(2e-9, 2e-9, 0.7, 0).angle == 0);
}

TEST_CASE("sheared fabric: K1 of a balanced fabric lies between the yarns, 3 to 1 at 30 degrees") {
  const ShearedPermeability closed = sheared_permeability(2e-9, 2e-9, 0.3, 30 * degree);
  CHECK(relative_error(closed.permeability_1, 2e-9 * std::sqrt(3)) < 1e-13);
  CHECK(relative_error(closed.permeability_2, 2e-9 / std::sqrt(3)) < 1e-13);
  CHECK(closed.angle == doctest::Approx(30 * degree)); // yarns 60 degrees apart
  // The other way: the weft at 120 degrees, the acute bisector at -30.
  const ShearedPermeability opened = sheared_permeability(2e-9, 2e-9, 0, -30 * degree);
  CHECK(relative_error(opened.permeability_1, 2e-9 * std::sqrt(3)) < 1e-13);
  CHECK(opened.angle == doctest::Approx(-30 * degree));
}

TEST_CASE(
    "sheared fabric: ducts along one set of yarns turn with it and come closer by cos(shear)") {
  const double shear = 25 * degree;
  const ShearedPermeability warp = sheared_permeability(1e-9, 1e-20, 0, shear);
  CHECK(relative_error(warp.permeability_1, 1e-9 / std::cos(shear)) < 1e-9);
  CHECK(std::abs(warp.angle) < 1e-9);
  const ShearedPermeability weft = sheared_permeability(1e-9, 1e-20, pi / 2, shear);
  CHECK(relative_error(weft.permeability_1, 1e-9 / std::cos(shear)) < 1e-9);
  CHECK(weft.angle == doctest::Approx(pi / 2 - shear));
}

TEST_CASE("sheared fabric: the geometric mean stays, mirroring mirrors") {
  for (const double shear : {-1.2, -0.5, 0.1, 0.8, 1.3}) {
    const ShearedPermeability one = sheared_permeability(4e-9, 1e-9, 0.6, shear);
    CHECK(relative_error(one.permeability_1 * one.permeability_2, 4e-18) < 1e-12);
    CHECK(one.permeability_1 >= one.permeability_2);
    const ShearedPermeability mirrored = sheared_permeability(4e-9, 1e-9, -0.6, -shear);
    CHECK(relative_error(mirrored.permeability_1, one.permeability_1) < 1e-12);
    CHECK(mirrored.angle == doctest::Approx(-one.angle));
  }
}

TEST_CASE("sheared fabric: K1 as a direction in space") {
  const Vector3 warp = Vector3(1, 2, 2) / 3;
  const Vector3 across = Vector3(2, 1, -2) / 3;
  const Vector3 weft = std::cos(pi / 3) * warp + std::sin(pi / 3) * across;
  const ShearedPermeability permeability =
      sheared_permeability(1e-9, 1e-9, 0, shear_angle(warp, weft));
  const Vector3 middle = (warp + weft).normalized();
  CHECK((sheared_direction_1(permeability, warp, weft) - middle).norm() < 1e-12);
}
