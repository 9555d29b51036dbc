// What the tables of gates say of layouts that open the mould.
#include "io/gate_layouts.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <string>
#include <vector>

using namespace tidemark;

namespace {

LayoutRow row(const std::string& name, double fill_time, double pressure, double force,
              bool opens_mould) {
  LayoutRow result;
  result.name = name;
  result.state = RunState::filled;
  result.fill_time = fill_time;
  result.filled_fraction = 1;
  result.peak_head_pressure = pressure;
  result.peak_till_near_end = pressure;
  result.peak_force = force;
  result.opens_mould = opens_mould;
  return result;
}

std::vector<LayoutRow> rows() {
  return {row("as it is", 500, 1e5, 3e3, false), row("layout 1", 200, 1e5, 9e3, true),
          row("layout 2", 300, 1e5, 4e3, false), row("layout 3", 400, 1e5, 4e3, false)};
}

} // namespace

TEST_CASE("gate layouts: one that opens the mould is not preferable, and stands in nobody's way") {
  CHECK(preferable_rows(rows()) == std::vector<bool>{false, false, true, false});
  const std::string text = layouts_text({}, rows());
  CHECK(says(text, "  opens    "));
  CHECK(says(text, "\nopens: the mould is pushed open; such a layout is not preferable.\n"));
  const auto json = nlohmann::json::parse(layouts_json({}, rows()));
  CHECK(json["layouts"][1]["opens_mould"] == true);
  CHECK(json["layouts"][2]["opens_mould"] == false);
  CHECK(says(layouts_csv(rows()), "peak_opening_force_n,opens_mould,gel_share"));
  CHECK(!says(layouts_text({}, {rows().front()}), "opens"));
}

TEST_CASE("gate layouts: what the last cells ask for has a column, and decides nothing") {
  std::vector<LayoutRow> all = rows();
  CHECK(!says(layouts_text({}, all), "till 99 %"));
  all[2].peak_head_pressure = 4e5;
  CHECK(preferable_rows(all) == std::vector<bool>{false, false, true, false});
  const std::string text = layouts_text({}, all);
  CHECK(says(text, "head peak  till 99 %  longest way"));
  CHECK(says(text, "4.00 bar   1.00 bar"));
  CHECK(says(layouts_csv(all), ",4e+05,1e+05,"));
}

TEST_CASE("gate layouts: a push that climbs to a height that is not known is marked") {
  std::vector<LayoutRow> all{rows()[2], rows()[3]};
  CHECK(!says(layouts_text({}, all), "?"));
  all[1].push_climbs = true;
  CHECK(says(layouts_text({}, all), "4.00 kN ?"));
  CHECK(says(layouts_text({}, all), "\n?: the push climbs while the last 1 % fills"));
}

TEST_CASE("gate layouts: a warning names the layouts it is of, unless it is of all") {
  std::vector<LayoutRow> all = rows();
  for (LayoutRow& one : all) {
    one.warnings = {"The mesh is coarse."};
  }
  all[1].warnings.emplace_back("The mould is pushed open.");
  all[3].warnings.emplace_back("The mould is pushed open.");
  CHECK(layout_warnings(all) ==
        std::vector<std::string>{"The mesh is coarse.",
                                 "layout 1, layout 3: The mould is pushed open."});
  CHECK(says(layouts_text({}, all), "\nWarning: layout 1, layout 3: The mould is pushed open.\n"));
}
