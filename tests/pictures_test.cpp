// Pictures are read back and looked at pixel by pixel. The part is the sample plate, 2 m x 1 m; the
// box it is fitted into is 1090 pixels wide, so that a metre is 545 pixels.
#include "io/guarded_child.hpp"
#include "io/offscreen.hpp"
#include "io/picture_content.hpp"
#include "io/pictures.hpp"
#include "tests/support/program.hpp"
#include "tests/support/sample_run.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <vtkImageData.h>
#include <vtkNew.h>
#include <vtkPNGReader.h>
#include <vtkSmartPointer.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <limits>

using namespace tidemark;
namespace fs = std::filesystem;

namespace {

constexpr double metre = 545; // in pixels
const std::vector<std::string> names = {"fill-time.png", "pressure.png", "last-places.png",
                                        "layout.png"};

/// Whether pictures can be drawn; said where not, once for each test.
bool can_draw() {
#ifdef TIDEMARK_EGL
  return true;
#else
  MESSAGE("SKIPPED: built without EGL; scripts/setup installs libegl-dev");
  return false;
#endif
}

class Image {
public:
  explicit Image(const std::string& png) {
    vtkNew<vtkPNGReader> reader;
    reader->SetMemoryBuffer(png.data());
    reader->SetMemoryBufferLength(static_cast<vtkIdType>(png.size()));
    reader->Update();
    image_ = reader->GetOutput();
  }
  [[nodiscard]] int width() const { return image_->GetDimensions()[0]; }
  [[nodiscard]] int height() const { return image_->GetDimensions()[1]; }
  /// From the lower left corner.
  [[nodiscard]] Rgb at(double x, double y) const {
    const auto* const pixel = static_cast<const unsigned char*>(
        image_->GetScalarPointer(static_cast<int>(x), static_cast<int>(y), 0));
    return {pixel[0], pixel[1], pixel[2]};
  }
  /// At a place of the plate [m].
  [[nodiscard]] Rgb on_plate(double x, double y) const {
    const PixelBox box = part_box({});
    return at(box.left + metre * x, (box.bottom + box.top) / 2 + metre * (y - 0.5));
  }

private:
  vtkSmartPointer<vtkImageData> image_;
};

int difference(Rgb one, Rgb other) {
  return std::max({std::abs(one.red - other.red), std::abs(one.green - other.green),
                   std::abs(one.blue - other.blue)});
}

/// One picture of a run; drawn in a child, as the program does.
Image image_of(const Case& input, const FillResult& result, std::size_t number) {
  const ChildOutcome outcome = run_in_child(
      [&] {
        const ShellMesh& mesh = input.problem.mesh;
        return open_offscreen().empty()
                   ? png_of(pictures_of(input, result).at(number), mesh, default_view(mesh))
                   : std::string();
      },
      {.cpu_seconds = 100, .address_space = std::size_t{64} << 30U});
  REQUIRE(outcome.end == ChildEnd::finished);
  REQUIRE(!outcome.output.empty());
  return Image(outcome.output);
}

/// Filled from left to right at an even pace, in 90 s; the pressure falls from 1 bar to 0.
FillResult even_result() {
  FillResult result = sample_result();
  result.fill_time_field = {0, 45, 90, 0, 45, 90};
  result.pressure = {1e5, 5e4, 0, 1e5, 5e4, 0};
  return result;
}

/// The same, but with the right square dry, and its air shut in.
FillResult half_result() {
  FillResult result = trapped_air_result();
  constexpr double never = std::numeric_limits<double>::quiet_NaN();
  result.fill_time_field = {0, 45, never, 0, 45, never};
  result.pressure = {1e5, 5e4, 0, 1e5, 5e4, 0};
  result.fill_fraction = {1, 1, 0, 1, 1, 0};
  return result;
}

/// Whether a colour is somewhere round a pixel.
bool is_near(const Image& image, Rgb colour, double x, double y, int reach) {
  for (int dx = -reach; dx <= reach; ++dx) {
    for (int dy = -reach; dy <= reach; ++dy) {
      if (difference(image.at(x + dx, y + dy), colour) <= 3) {
        return true;
      }
    }
  }
  return false;
}

// Numbers 64, 128 and 191 of the 256 colours as published with the map.
const Rgb at_a_quarter = {59, 82, 139};
const Rgb at_half = {33, 145, 140};
const Rgb at_three_quarters = {92, 200, 99};
constexpr Rgb white = {255, 255, 255};

} // namespace

TEST_CASE("pictures: the box of the part is as the tests take it") {
  const PixelBox box = part_box({});
  CHECK(box.right - box.left == doctest::Approx(2 * metre));
  CHECK(box.top - box.bottom > metre);
}

TEST_CASE("pictures: fill time in the colours of the map, with lines at the round ticks") {
  if (!can_draw()) {
    return;
  }
  const Image image = image_of(sample_case(), even_result(), 0);
  CHECK(image.width() == 1600);
  CHECK(image.height() == 1000);
  CHECK(difference(image.on_plate(0.5, 0.5), at_a_quarter) <= 6);
  CHECK(difference(image.on_plate(1.0, 0.5), at_half) <= 6);
  CHECK(difference(image.on_plate(1.5, 0.5), at_three_quarters) <= 6);
  CHECK(image.on_plate(-0.1, 0.5) == white);
  // A line every 10 s, which is every 2/9 m: at 30 s dark, midway to the next not.
  const auto darkest = [&](double x) {
    int least = 255;
    for (int dx = -2; dx <= 2; ++dx) {
      least = std::min<int>(least, image.on_plate(x + dx / metre, 0.3).green);
    }
    return least;
  };
  CHECK(darkest(6.0 / 9) < 60);
  CHECK(darkest(7.0 / 9) > 90);
  // The colour bar: dark violet at its foot, yellow at its top, 450 pixels up.
  CHECK(difference(image.at(1250, 330), {0x44, 0x01, 0x54}) <= 12);
  CHECK(difference(image.at(1250, 770), {0xfd, 0xe7, 0x25}) <= 12);
}

TEST_CASE("pictures: what resin never reached is grey, and the front is where it stands") {
  if (!can_draw()) {
    return;
  }
  const Image image = image_of(sample_case(), half_result(), 0);
  CHECK(difference(image.on_plate(1.9, 0.5), no_value_colour) <= 3);
  CHECK(difference(image.on_plate(1.6, 0.3), no_value_colour) <= 3);
  // The scale ends at 45 s, so that a quarter of the way on the plate is half of the scale.
  CHECK(difference(image.on_plate(0.5, 0.6), at_half) <= 6);
  CHECK(difference(image.on_plate(1.3, 0.3), {0xfd, 0xe7, 0x25}) <= 6);
}

TEST_CASE("pictures: pressure, highest at the gate") {
  if (!can_draw()) {
    return;
  }
  const Image image = image_of(sample_case(), even_result(), 1);
  // 0.75 bar, and 0.25 bar, of a scale from 0 to 1 bar.
  CHECK(difference(image.on_plate(0.5, 0.5), at_three_quarters) <= 6);
  CHECK(difference(image.on_plate(1.5, 0.5), at_a_quarter) <= 6);
}

TEST_CASE("pictures: air shut in has its mark beside the place, and the last place its number") {
  if (!can_draw()) {
    return;
  }
  const PixelBox box = part_box({});
  const double top = (box.bottom + box.top) / 2 + metre / 2;
  constexpr Rgb vermillion = {0xd5, 0x5e, 0x00};
  const Image shut_in = image_of(sample_case(), half_result(), 2);
  CHECK(is_near(shut_in, vermillion, box.right, top, 60)); // at node 5, the upper right corner
  CHECK_FALSE(is_near(shut_in, vermillion, box.left + metre, top - 0.5 * metre, 60));
  const Image filled = image_of(sample_case(), even_result(), 2);
  CHECK_FALSE(is_near(filled, vermillion, box.right, top, 60));
  CHECK(is_near(filled, {0x20, 0x20, 0x20}, box.right, top, 12)); // the dot at the place
}

TEST_CASE("pictures: regions, gate and vent where they are, and a scale bar of 200 mm") {
  if (!can_draw()) {
    return;
  }
  const Image image = image_of(sample_case(), even_result(), 3);
  // Sky blue and orange (Okabe and Ito 2008), three tenths of the way to white.
  CHECK(difference(image.on_plate(0.4, 0.4), {0x89, 0xcb, 0xf0}) <= 4);
  CHECK(difference(image.on_plate(1.6, 0.4), {0xee, 0xbc, 0x4d}) <= 4);
  // The gate is the whole left side, the vent node 5.
  CHECK(image.on_plate(0, 0.5) == Rgb{0, 0, 0});
  CHECK(difference(image.on_plate(2, 1), white) <= 3); // within its triangle
  int dark = 0;
  for (int x = 40; x < 400; ++x) {
    const bool is_dark = image.at(x, 50).green < 100;
    if (dark > 0 && !is_dark) {
      break;
    }
    dark += is_dark ? 1 : 0;
  }
  CHECK(std::abs(dark - 0.2 * metre) <= 3);
}

TEST_CASE("pictures: all four are written, the same bytes each time") {
  if (!can_draw()) {
    return;
  }
  const TemporaryFolder folder;
  fs::create_directories(folder.path() / "again");
  const WrittenPictures written = write_pictures(folder.path(), sample_case(), even_result());
  CHECK(written.hindrance.empty());
  CHECK(written.names == names);
  write_pictures(folder.path() / "again", sample_case(), even_result());
  for (const std::string& name : names) {
    CAPTURE(name);
    const std::string png = read_file(folder.path() / name);
    CHECK(png.starts_with("\x89PNG"));
    CHECK(png.size() > 10000);
    CHECK(png.size() < 500000);
    CHECK(png == read_file(folder.path() / "again" / name));
  }
}

TEST_CASE("pictures: of a run in which no resin came") {
  if (!can_draw()) {
    return;
  }
  FillResult result = half_result();
  std::ranges::fill(result.fill_time_field, std::numeric_limits<double>::quiet_NaN());
  std::ranges::fill(result.fill_fraction, 0);
  result.filled_fraction = 0;
  for (const std::size_t number : {0U, 1U, 2U}) {
    const Image image = image_of(sample_case(), result, number);
    CHECK(difference(image.on_plate(0.5, 0.3), no_value_colour) <= 3);
  }
}

TEST_CASE("pictures: seen from the side a plate is a line") {
  if (!can_draw()) {
    return;
  }
  const TemporaryFolder folder;
  write_pictures(folder.path(), sample_case(), even_result(), {.from = Vector3(0, -1, 0)});
  const Image image(read_file(folder.path() / "layout.png"));
  CHECK(image.on_plate(0.5, 0.3) == white);
  CHECK(image.on_plate(0.5, 0.5) != white);
}
