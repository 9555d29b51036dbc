// Places on pictures worked out by hand.
#include "io/picture_view.hpp"
#include "tests/support/meshes.hpp"
#include "tests/support/sample_run.hpp"

#include <doctest/doctest.h>

#include <Eigen/Geometry>

#include <cmath>

using namespace tidemark;

namespace {

/// The sample plate, 2 m x 1 m in x and y, with its nodes put elsewhere.
template <class Move> ShellMesh moved_plate(Move move) {
  ShellMesh mesh = sample_case().problem.mesh;
  for (Vector3& position : mesh.positions) {
    position = move(position);
  }
  return mesh;
}

void check_frame(const PictureView& view) {
  CHECK(view.right.norm() == doctest::Approx(1));
  CHECK(view.up.norm() == doctest::Approx(1));
  CHECK(view.right.cross(view.up).dot(view.toward) == doctest::Approx(1)); // no mirror image
}

} // namespace

TEST_CASE("a flat part is seen square on, its long side across, from the positive side") {
  const auto as_it_is = [](const Vector3& p) { return p; };
  const PictureView view = default_view(moved_plate(as_it_is));
  CHECK((view.right - Vector3::UnitX()).norm() < 1e-12);
  CHECK((view.up - Vector3::UnitY()).norm() < 1e-12);
  CHECK((view.toward - Vector3::UnitZ()).norm() < 1e-12);

  const auto turned = [](const Vector3& p) { return Vector3(p.y(), p.x(), 0); };
  const PictureView long_in_y = default_view(moved_plate(turned));
  CHECK(std::abs(long_in_y.right.y()) == doctest::Approx(1));
  CHECK(long_in_y.toward.z() == doctest::Approx(1));
  check_frame(long_in_y);

  const auto upright = [](const Vector3& p) { return Vector3(0, p.x(), p.y()); };
  const PictureView from_x = default_view(moved_plate(upright));
  CHECK(from_x.toward.x() == doctest::Approx(1));
  CHECK(std::abs(from_x.right.y()) == doctest::Approx(1));
  check_frame(from_x);
}

TEST_CASE("a part at an angle is seen along its own normal") {
  const auto leaning = [](const Vector3& p) { return Vector3(p.x(), 0.8 * p.y(), 0.6 * p.y()); };
  const PictureView view = default_view(moved_plate(leaning));
  CHECK((view.toward - Vector3(0, -0.6, 0.8)).norm() < 1e-9);
  check_frame(view);
}

TEST_CASE("a part that is not flat is seen from its widest side, tilted by 30 degrees") {
  // A roof of two leaves, 2 m long: from above it covers 2 m2, from the side 0.4 m2 at most.
  const auto roof = [](const Vector3& p) {
    return Vector3(p.x(), p.y(), 0.2 * p.x() * (2 - p.x()));
  };
  const PictureView view = default_view(moved_plate(roof));
  check_frame(view);
  CHECK(view.toward.z() == doctest::Approx(std::sqrt(3) / 2));
  CHECK(view.toward.y() == doctest::Approx(-0.5));
  CHECK(view.right.x() == doctest::Approx(1));
}

TEST_CASE("a view from a direction has z up, or y where one looks along z") {
  const PictureView side = view_from({0, -2, 0});
  CHECK((side.right - Vector3::UnitX()).norm() < 1e-12);
  CHECK((side.up - Vector3::UnitZ()).norm() < 1e-12);
  const PictureView below = view_from({0, 0, -1});
  CHECK((below.up - Vector3::UnitY()).norm() < 1e-12);
  CHECK((below.right + Vector3::UnitX()).norm() < 1e-12);
  check_frame(view_from({1, -1, 0.5}));
}

TEST_CASE("a part fills its box") {
  const ShellMesh mesh = sample_case().problem.mesh; // 0 to 2 m, 0 to 1 m
  const PictureView view = default_view(mesh);
  const Projection projection = projection_into({100, 50, 500, 450}, mesh, view);
  CHECK(projection.scale == doctest::Approx(200)); // 400 pixels for 2 m
  const Pixel lower_left = projection({0, 0, 0});
  CHECK(lower_left.x == doctest::Approx(100));
  CHECK(lower_left.y == doctest::Approx(150)); // 200 of 400 pixels high, in the middle
  const Pixel upper_right = projection({2, 1, 0});
  CHECK(upper_right.x == doctest::Approx(500));
  CHECK(upper_right.y == doctest::Approx(350));
}

TEST_CASE("scale bars have round lengths") {
  CHECK(scale_bar(545, 260).text == "200 mm");
  CHECK(scale_bar(545, 260).length == doctest::Approx(0.2));
  CHECK(scale_bar(520, 260).text == "500 mm"); // exactly as long as allowed
  CHECK(scale_bar(200, 260).text == "1 m");
  CHECK(scale_bar(10, 260).text == "20 m");
  CHECK(scale_bar(1e5, 260).text == "2 mm");
  CHECK(scale_bar(1e6, 260).text == "0.2 mm");
}
