// What a part weighs: sheared fabric.
#include "io/materials.hpp"
#include "solver/filling.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>
#include <fstream>
#include <numbers>

using namespace tidemark;
namespace fs = std::filesystem;

TEST_CASE("part mass: a fabric sheared by 30 degrees puts 1 / cos 30 as much on the same area") {
  const TemporaryFolder folder;
  std::ofstream(folder.path() / "square.vtk")
      << "# vtk DataFile Version 3.0\nsquare\nASCII\nDATASET POLYDATA\nPOINTS 4 double\n"
         "0 0 0 1 0 0 1 1 0 0 1 0\nPOLYGONS 2 8\n3 0 1 2\n3 0 2 3\nCELL_DATA 2\n"
         "SCALARS g double 1\nLOOKUP_TABLE default\n30 30\n";
  const auto mass_with = [&](const std::string& key) {
    const fs::path file = folder.path() / "square.toml";
    std::ofstream(file) << "[part]\nmesh = \"square.vtk\"\nmesh_unit = \"m\"\n[[region]]\nname = "
                           "\"skin\"\nthickness = \"2 mm\"\nlayup = [{ fabric = \"weave\" }]\n"
                        << key
                        << "[fabric.weave]\nareal_weight = \"2250 g/m2\"\nfibre_density = \"2500 "
                           "kg/m3\"\npermeability = { law = \"kozeny-carman\", constant = \"1e-9 "
                           "m2\", valid = [0.1, 0.8] }\n[resin]\nviscosity = \"200 mPa.s\"\n"
                           "density = \"1000 kg/m3\"\n[injector]\npressure_cap = \"1 bar\"\n"
                           "[[gate]]\nname = \"G\"\nat = [0, 0, 0]\n[[vent]]\nname = \"V\"\nat = "
                           "[1, 1, 0]\npressure = \"0 bar\"\n";
    const Case input = read_case(file);
    return part_mass(input, fill(input.problem)).value.value_or(0);
  };
  // 1 m2: flat 2.25 kg of fibres, 0.9 L of them, and 1.1 L of resin.
  CHECK(mass_with("") == doctest::Approx(2.25 + 1.1).epsilon(1e-9));
  const double more = 1 / std::cos(std::numbers::pi / 6);
  CHECK(mass_with("direction = [1, 0, 0]\nshear = { array = \"g\", unit = \"deg\" }\n") ==
        doctest::Approx(2.25 * more + 2 - 0.9 * more).epsilon(1e-9));
}
