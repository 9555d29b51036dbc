// Values tried in place of those of a case file: how they are written, where they go, and the
// messages about them.
#include "io/case_edit.hpp"

#include "io/case_file.hpp"
#include "mesh/error.hpp"
#include "support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <filesystem>
#include <string>
#include <vector>

using namespace tidemark;

namespace {

using Path = std::vector<std::string>;

const char* const plate_case = R"(title = "Plate"
fabrics = "shelf.toml"
[part]
mesh = "plate.obj"
mesh_unit = "mm"
[[region]]
name = "skin"
thickness = "1 mm"
layup = [ { fabric = "mat" }, { fabric = "own" } ]
[fabric.own]
areal_weight = "500 g/m2"
fibre_density = "2500 kg/m3"
permeability = { law = "constant", value = "1e-10 m2", valid = [0.2, 0.6] }
[resin]
viscosity = "200 mPa.s"
[injector]
pressure_cap = "1 bar"
[[gate]]
name = "G1"
at = [0, 0, 0]
radius = "2 mm"
[[vent]]
name = "V.1"
at = [10, 10, 0]
pressure = "0 bar"
[[vent]]
name = "V2"
at = [10, 0, 0]
pressure = "0 bar"
)";

const char* const shelf = R"([fabric.mat]
areal_weight = "500 g/m2"
fibre_density = "2500 kg/m3"
permeability = { law = "constant", value = "1e-10 m2", valid = [0.2, 0.6] }
)";

/// The case with its shelf and a square of 10 mm, read with the values of an edit.
struct Plate {
  TemporaryFolder folder;
  Plate() {
    write_file(folder.path() / "plate.toml", plate_case);
    write_file(folder.path() / "shelf.toml", shelf);
    write_file(folder.path() / "plate.obj",
               "v 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\nf 1 2 3\nf 1 3 4\n");
  }
  [[nodiscard]] Case with(const std::string& text) const {
    const CaseEdit edit = parse_edit(text);
    return read_case(folder.path() / "plate.toml", &edit);
  }
  /// What reading says, without the folder.
  [[nodiscard]] std::string error_with(const std::string& text) const {
    try {
      static_cast<void>(with(text));
    } catch (const InputError& error) {
      std::string said = error.what();
      const std::string prefix = folder.path().string() + "/";
      for (auto at = said.find(prefix); at != std::string::npos; at = said.find(prefix)) {
        said.erase(at, prefix.size());
      }
      return said;
    }
    return "";
  }
};

std::string value_of(const Case& input, const std::string& key) {
  for (const UsedValue& value : input.values) {
    if (value.key == key) {
      return value.value;
    }
  }
  return "";
}

std::string refusal_of(const std::string& text) {
  try {
    parse_edit(text);
  } catch (const InputError& error) {
    return error.what();
  }
  return "";
}

std::string value_in(const std::string& text) {
  const CaseEdit edit = parse_edit(text);
  REQUIRE(edit.changes.size() == 1);
  return edit.changes[0].value;
}

} // namespace

TEST_CASE("--try: label, keys and values") {
  const CaseEdit edit = parse_edit("it's thin : region.skin.thickness = 3 mm;gate.G1.at=[1, 2, 3]");
  CHECK(edit.label == "it's thin");
  REQUIRE(edit.changes.size() == 2);
  CHECK(edit.changes[0].path == Path{"region", "skin", "thickness"});
  CHECK(edit.changes[0].value == "\"3 mm\"");
  CHECK(edit.changes[1].path == Path{"gate", "G1", "at"});
  CHECK(edit.changes[1].value == "[1, 2, 3]");
  CHECK(parse_edit("title = \"a: b; c\"").label.empty());
  CHECK(parse_edit("vent.\"V: 1.a\".pressure = 0 bar").changes[0].path ==
        Path{"vent", "V: 1.a", "pressure"});
  CHECK(parse_edit("region.left wing.thickness = 3 mm").changes[0].path ==
        Path{"region", "left wing", "thickness"});
}

TEST_CASE("--try: quotes round a text may be left out, and none takes a key out") {
  CHECK(value_in("a = -0.5 bar") == "\"-0.5 bar\"");
  CHECK(value_in("a = \"3 mm\"") == "\"3 mm\"");
  CHECK(value_in("a = 0.8") == "0.8");
  CHECK(value_in("a = true") == "true");
  CHECK(value_in("a = 50 %") == "\"50 %\"");
  CHECK(value_in("a = [\"x; y\", 'z = ]']") == "[\"x; y\", 'z = ]']");
  CHECK(value_in("a = [1,\n 2]") == "[1,\n 2]");
  CHECK(value_in("a = mesh/b.msh") == "\"mesh/b.msh\"");
  CHECK(value_in("a = none").empty());
  CHECK(value_in("a = \"none\"") == "\"none\"");
}

TEST_CASE("--try: what is not a change is refused with its text") {
  const std::string form = "expected KEY = VALUE such as region.skin.thickness = 3 mm, several "
                           "with ; between";
  CHECK(refusal_of("") == "--try \"\": found nothing where a change should stand, " + form);
  CHECK(refusal_of("a = 1;") ==
        "--try \"a = 1;\": found nothing where a change should stand, " + form);
  CHECK(refusal_of("thin:") ==
        "--try \"thin:\": found nothing where a change should stand, " + form);
  CHECK(refusal_of("region.skin") ==
        "--try \"region.skin\": found \"region.skin\" without an equals sign, " + form);
  CHECK(refusal_of(": a = 1") == "--try \": a = 1\": found \"\" before the colon, expected a label "
                                 "of one line such as thin:");
  CHECK(refusal_of("a =") == "--try \"a =\": found no value after \"a =\", expected one, or the "
                             "word none to take the key out");
  CHECK(refusal_of("a..b = 1")
            .starts_with("--try \"a..b = 1\": found the key \"a..b\", expected "
                         "names with dots between"));
  CHECK(refusal_of("= 1").starts_with("--try \"= 1\": found the key \"\", expected names"));
  CHECK(refusal_of("a/b = 1").starts_with("--try \"a/b = 1\": found the key \"a/b\""));
  CHECK(refusal_of("a = 1; b = 2; a = 3") ==
        "--try \"a = 1; b = 2; a = 3\": found a twice, expected each key once");
  CHECK(
      refusal_of("a = [1 m2, 2 m2]") ==
      "--try \"a = [1 m2, 2 m2]\": found more text after a value of a list, expected a comma or ] "
      "(a number with its unit stands in quotes: \"4 mm\")");
  CHECK(refusal_of("a = [1, 2").starts_with("--try \"a = [1, 2\": found "));
  CHECK(refusal_of("a = \"x").starts_with("--try \"a = \\\"x\": found ") == false);
  CHECK(refusal_of("a = \"x").starts_with("--try \"a = \"x\": found "));
  CHECK(refusal_of("a = 1\nb = 2") ==
        "--try \"a = 1\\nb = 2\": found \"1\\nb = 2\", expected one value");
  CHECK(refusal_of("a = 1 # two") ==
        "--try \"a = 1 # two\": found \"1 # two\", expected one value");
  CHECK(refusal_of(std::string(5000, 'a')).ends_with("found 5000 bytes, expected at most 4000"));
  CHECK(refusal_of("a.b.c.d.e.f.g.h.i.j.k.l.m.n.o.p.q.r.s.t.u = 1")
            .ends_with("found a key of 21 parts, expected at most 20"));
  CHECK(refusal_of("a = { " + std::string(101, '.') + " }").ends_with("expected at most 100"));
}

TEST_CASE("--try: values replace those of the case") {
  const Plate plate;
  const Case input = plate.with("region.skin.thickness = 1.25 mm; resin.viscosity = 0.1 Pa.s; "
                                "gate.1.radius = 3 mm; vent.\"V.1\".pressure = -0.5 bar");
  CHECK(input.problem.regions[0].thickness == doctest::Approx(1.25e-3));
  CHECK(input.problem.resin.viscosity == doctest::Approx(0.1));
  CHECK(input.problem.gates[0].radius.value() == doctest::Approx(3e-3));
  CHECK(input.problem.vents[0].pressure == doctest::Approx(-5e4));
  CHECK(value_of(input, "resin.viscosity") == "0.1 Pa.s");
  CHECK(value_of(input, "--try").starts_with("region.skin.thickness = 1.25 mm; "));
}

TEST_CASE("--try: keys and whole tables are added, taken out and exchanged") {
  const Plate plate;
  const Case input = plate.with("region.skin.thickness = none; region.skin.fibre_volume_fraction "
                                "= 50 %; vent.V2 = none; injector.flow_rate = 1 L/min; "
                                "mould.closing_direction = [0, 0, 1]; region.skin.layup.2 = "
                                "{ fabric = \"mat\", count = 2 }");
  // Three plies of 500 g/m2 are 0.6 mm of fibres: 1.2 mm at 50 %.
  CHECK(input.problem.regions[0].thickness == doctest::Approx(1.2e-3));
  CHECK(input.problem.vents.size() == 1);
  CHECK(input.problem.injector.flow_rate.value() == doctest::Approx(1e-3 / 60));
  CHECK(input.problem.mould.has_value());
}

TEST_CASE("--try: the last vent taken out leaves a case without vents") {
  const Plate plate;
  const Case input = plate.with("vent.V2 = none; vent.\"V.1\" = none; cavity.pressure = -0.5 bar");
  CHECK(input.problem.vents.empty());
  CHECK(input.problem.cavity_pressure == doctest::Approx(-5e4));
  CHECK(plate.error_with("gate.G1 = none") ==
        "plate.toml:1: gate: found no such table, expected one table [[gate]] or more");
}

TEST_CASE("--try: each beginning of a text is read, refused or wrong, and no more") {
  const Plate plate;
  const std::string text =
      "a b: region.skin.layup.2 = { fabric = \"mat\", count = 2 }; vent.\"V.1\" "
      "= none; gate = [{ name = 'G', at = [0, 0, 0] }]; fabric.mat.x = 1";
  int read = 0;
  for (std::size_t length = 0; length <= text.size(); ++length) {
    try {
      static_cast<void>(plate.with(text.substr(0, length)));
      ++read;
    } catch (const InputError&) {
    }
  }
  CHECK(read >= 3);
}

TEST_CASE("--try: fabrics of the case and of the shared file") {
  const Plate plate;
  const Case input = plate.with("fabric.own.areal_weight = 250 g/m2; fabric.mat.areal_weight = "
                                "750 g/m2");
  REQUIRE(input.layups[0]->materials.size() == 2);
  CHECK(input.layups[0]->materials[0].mass.value() == doctest::Approx(0.75));
  CHECK(input.layups[0]->materials[1].mass.value() == doctest::Approx(0.25));
}

TEST_CASE("--try: messages name the text, the key and what is expected") {
  const Plate plate;
  const auto with = [](const std::string& text, const std::string& file = "plate.toml") {
    return file + " with --try \"" + text + "\": ";
  };
  const std::vector<std::pair<std::string, std::string>> faults{
      {"resin.viscosity = 200 bar", "resin.viscosity: found \"200 bar\", which is a pressure, "
                                    "expected a viscosity such as \"180 mPa.s\""},
      {"resin.viscosty = 1 Pa.s",
       "resin: found the unknown key \"viscosty\", expected \"viscosity\""},
      {"injectr.flow_rate = 1 L/min",
       "case: found the unknown key \"injectr\", expected \"injector\""},
      {"gate.G2.at = [1, 2, 0]",
       "gate.G2.at: found no gate \"G2\", expected one of G1 (nearest: G1)"},
      {"vent.9.pressure = 0 bar", "vent.9.pressure: found no vent \"9\", expected one of V.1, V2"},
      {"region.skn.thickness = 1 mm",
       "region.skn.thickness: found no region \"skn\", expected one of skin (nearest: skin)"},
      {"fabric.mta.areal_weight = 300 g/m2", "shelf.toml|fabric.mta.areal_weight: found no fabric "
                                             "\"mta\", expected one of mat, own (nearest: mat)"},
      {"fabric.mat.areal_weight = 300 g",
       "shelf.toml|fabric[mat].areal_weight: found \"300 g\", which is a mass, expected an areal "
       "weight such as \"450 g/m2\""},
      {"resin.viscosity.low = 1", "resin.viscosity.low: found a value at resin.viscosity, expected "
                                  "a table or a list"},
      {"resin.gel_tme = none",
       "resin.gel_tme: found no key \"gel_tme\", expected one of viscosity"},
      {"region.skin.thickness = -1 mm", "region[skin].thickness: found \"-1 mm\", expected a "
                                        "thickness above 0 (from 1e-7 m to 10 m)"},
      {"injector.line.length = 1 m", "injector.line: found no key \"bore\""},
  };
  for (const auto& [text, expected] : faults) {
    CAPTURE(text);
    if (text == "injector.line.length = 1 m") {
      CHECK(plate.error_with(text).find("bore: found no such key") != std::string::npos);
      continue;
    }
    const std::size_t bar = expected.find('|');
    const std::string message =
        bar == std::string::npos ? with(text) + expected
                                 : with(text, expected.substr(0, bar)) + expected.substr(bar + 1);
    CHECK(plate.error_with(text) == message);
  }
}

TEST_CASE("--try: an error of the case itself keeps its line") {
  const Plate plate;
  write_file(plate.folder.path() / "plate.toml",
             std::string(plate_case) + "[cavity]\npresure = 1\n");
  const std::string said = plate.error_with("resin.viscosity = 1 m");
  CAPTURE(said);
  CHECK(said.find("plate.toml:31: cavity: found the unknown key \"presure\"") == 0);
  CHECK(said.find("plate.toml with --try \"resin.viscosity = 1 m\": resin.viscosity: ") !=
        std::string::npos);
}
