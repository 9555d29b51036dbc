// Strips whose thickness grows or falls along the way of the resin: one dimension, in closed form.
//
// With h = h0 + s x the pressure between gate and front at x = X falls by
//     p = mu (Q / b) R(X),  R(X) = integral from 0 to X of dx / (h K),
// and the front moves by phi h dX / dt = Q / b. Derived here from Darcy's law; Q / b is the flow
// per width.
#include "solver/filling.hpp"
#include "tests/support/checked_fill.hpp"
#include "tests/support/closeness.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/small_case.hpp"
#include "tests/support/strip.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <string>

using namespace tidemark;
using namespace tidemark::small_case;
using namespace tidemark::test;

namespace {

/// A strip 1 m x 0.3 m of resin 0.2 Pa s with an array "t" of thickness [mm] from x = 0 to 1.
FillProblem tapered_strip(double from, double to, const std::string& region,
                          const std::string& drive, int columns = 60) {
  ShellMesh mesh = plate({.length = 1,
                          .width = 0.3,
                          .columns = columns,
                          .rows = columns / 3,
                          .jitter = 0.25,
                          .seed = 1});
  mesh.node_sets.push_back(
      {"start", nodes_where(mesh, [](const Vector3& x) { return x.x() == 0; })});
  ElementArray array{"t", 1, false, {}};
  for (const ElementId element : mesh.elements.ids()) {
    array.values.push_back(from + (to - from) * element_centre(mesh, element).x());
  }
  mesh.element_arrays.push_back(std::move(array));
  const Outcome outcome =
      outcome_of("[part]\nmesh = \"strip.vtu\"\nmesh_unit = \"m\"\n[[region]]\nname = \"taper\"\n"
                 "thickness = { array = \"t\", unit = \"mm\" }\n" +
                     region + "[resin]\nviscosity = \"200 mPa.s\"\n[injector]\n" + drive +
                     "[[gate]]\nname = \"G\"\ngroup = \"start\"\n[cavity]\npressure = \"0 bar\"\n"
                     "sealed_air = false\n",
                 mesh);
  for (const std::string& text : outcome.errors) {
    FAIL_CHECK(text);
  }
  for (const std::string& text : outcome.warnings) {
    FAIL_CHECK(text);
  }
  return outcome.problem;
}

double fill_time(const FillProblem& problem) {
  const CheckedFill result = checked_fill(problem);
  REQUIRE(result.fill_time);
  return *result.fill_time;
}

const std::string one_bar = "pressure_cap = \"1 bar\"\n";
const std::string direct = "permeability = \"2e-9 m2\"\nporosity = 0.8\n";

/// S = 0.9 mm of solid fibre, K = C (1 - Vf)^3 / Vf^2 with C = 1e-9 m2: as Vf = S / h,
/// h K = C g^3 / S^2 and phi h = g with g = h - S.
const std::string laid =
    "layup = [{ fabric = \"woven\" }]\n"
    "[fabric.woven]\nareal_weight = \"2250 g/m2\"\nfibre_density = \"2500 kg/m3\"\n"
    "permeability = { law = \"kozeny-carman\", constant = \"1e-9 m2\", valid = [0.1, 0.8] }\n";

} // namespace

TEST_CASE("taper: constant pressure, K and porosity everywhere the same") {
  // R = ln(h / h0) / (s K), so that t = mu phi / (K p s^2) [h1^2 / 2 ln(h1 / h0) - (h1^2 - h0^2) /
  // 4] with mu phi / (K p) = 800 s/m2. From 2 mm to 6 mm, s = 4 mm/m: 800 (18 ln 3 - 8) / 16 s;
  // from 6 to 2: 800 (8 - 2 ln 3) / 16 s. A strip of one thickness takes 400 s.
  CHECK(std::abs(800 * (18 * std::log(3.0) - 8) / 16 - 588.751) < 1e-3);
  CHECK(std::abs(800 * (8 - 2 * std::log(3.0)) / 16 - 290.139) < 1e-3);
  CHECK(relative_error(fill_time(tapered_strip(2, 6, direct, one_bar)), 588.751) < 5e-3);
  CHECK(relative_error(fill_time(tapered_strip(6, 2, direct, one_bar)), 290.139) < 5e-3);
}

TEST_CASE("taper: a layup whose fibre volume fraction follows the thickness") {
  // R = S^2 / (2 C s) (1 / g0^2 - 1 / g^2), so that
  //     t = mu S^2 / (2 C p s^2) [((g1 / g0)^2 - 1) / 2 - ln(g1 / g0)].
  // From 2 mm to 4 mm g goes from 1.1 mm to 3.1 mm: 493.08 s; from 4 mm to 2 mm
  // 202.5 (((1.1 / 3.1)^2 - 1) / 2 - ln(1.1 / 3.1)) = 121.307 s.
  const double ratio = 3.1 / 1.1;
  const double opening =
      0.2 * 0.2025 / (2 * 1e-9 * 1e5) * (0.5 * (ratio * ratio - 1) - std::log(ratio));
  const double closing =
      0.2 * 0.2025 / (2 * 1e-9 * 1e5) * (0.5 * (1 / (ratio * ratio) - 1) + std::log(ratio));
  CHECK(std::abs(opening - 493.08) < 0.01);
  CHECK(std::abs(closing - 121.307) < 0.001);
  CHECK(relative_error(fill_time(tapered_strip(2, 4, laid, one_bar)), opening) < 5e-3);
  CHECK(relative_error(fill_time(tapered_strip(4, 2, laid, one_bar)), closing) < 5e-3);
}

TEST_CASE("taper: constant flow of a layup, time and pressure") {
  // Time: pores over flow, b (g0 + g1) / 2 L / Q = 0.3 x 2.1e-3 m3 / 1e-6 m3/s = 630 s. Pressure at
  // the end: mu (Q / b) S^2 / (2 C s) (1 / g0^2 - 1 / g1^2) with S = 0.9 mm, s = 2 mm/m, from 2 mm:
  // 0.2 x (1e-6 / 0.3) x 8.1e-7 / 4e-12 x (1 / 1.1e-3^2 - 1 / 3.1e-3^2) Pa = 97520 Pa.
  const FillProblem problem = tapered_strip(2, 4, laid, "flow_rate = \"1 mL/s\"\n", 120);
  const CheckedFill result = checked_fill(problem);
  REQUIRE(result.fill_time);
  CHECK(relative_error(*result.fill_time, 630) < 1e-3);
  CHECK(relative_error(result.pore_volume, 6.3e-4) < 1e-3);
  const double pressure =
      0.2 * 1e-6 / 0.3 * 8.1e-7 / 4e-12 * (1 / (1.1e-3 * 1.1e-3) - 1 / (3.1e-3 * 3.1e-3));
  CHECK(std::abs(pressure - 97520) < 10);
  CHECK(relative_error(result.peak_head_pressure, pressure) < 5e-3);
}
