// The command gates as a user starts it.
#include "io/case_file.hpp"
#include "io/gate_layouts.hpp"
#include "io/moved_ports.hpp"
#include "tests/support/json_text.hpp"
#include "tests/support/program.hpp"
#include "tests/support/says.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <csignal>
#include <filesystem>
#include <sstream>
#include <string>
#include <thread>
#include <utility>
#include <vector>

using namespace tidemark;
namespace fs = std::filesystem;
using Json = nlohmann::json;

namespace {

/// A plate 1 m x 0.5 m of squares of 25 mm, in mm, with the surfaces "left" and "right" (up to and
/// from x = 600 mm) and the line "lower edge".
std::string plate_mesh() {
  const int along = 40;
  const int across = 20;
  const auto node = [&](int i, int j) { return std::to_string(j * (along + 1) + i + 1); };
  std::ostringstream text;
  text << "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$PhysicalNames\n3\n1 1 \"lower edge\"\n2 2 "
          "\"left\"\n2 3 \"right\"\n$EndPhysicalNames\n$Nodes\n"
       << (along + 1) * (across + 1) << "\n";
  for (int j = 0; j <= across; ++j) {
    for (int i = 0; i <= along; ++i) {
      text << node(i, j) << " " << 25 * i << " " << 25 * j << " 0\n";
    }
  }
  text << "$EndNodes\n$Elements\n" << along + along * across << "\n";
  int label = 0;
  for (int i = 0; i < along; ++i) {
    text << ++label << " 1 2 1 1 " << node(i, 0) << " " << node(i + 1, 0) << "\n";
  }
  for (int j = 0; j < across; ++j) {
    for (int i = 0; i < along; ++i) {
      const int surface = i < 24 ? 2 : 3;
      text << ++label << " 3 2 " << surface << " " << surface << " " << node(i, j) << " "
           << node(i + 1, j) << " " << node(i + 1, j + 1) << " " << node(i, j + 1) << "\n";
    }
  }
  text << "$EndElements\n";
  return text.str();
}

const std::string usual_gate =
    "[[gate]] # in a corner\nname = \"G1\"\nat = [0, 0, 0]\nradius = \"10 "
    "mm\"\n";

/// Two plates of squares of 25 mm, in mm, 100 mm apart: "left" from x = 0 to 400, "right" from 500
/// to 700; both from y = 0 to 200.
std::string two_plates_mesh() {
  std::ostringstream nodes;
  std::ostringstream elements;
  int node_count = 0;
  int element_count = 0;
  for (const auto& [start, along] : {std::pair{0, 16}, std::pair{500, 8}}) {
    const int first = node_count;
    const auto node = [&](int i, int j) { return first + j * (along + 1) + i + 1; };
    for (int j = 0; j <= 8; ++j) {
      for (int i = 0; i <= along; ++i) {
        nodes << ++node_count << " " << start + 25 * i << " " << 25 * j << " 0\n";
      }
    }
    const int surface = start == 0 ? 2 : 3;
    for (int j = 0; j < 8; ++j) {
      for (int i = 0; i < along; ++i) {
        elements << ++element_count << " 3 2 " << surface << " " << surface << " " << node(i, j)
                 << " " << node(i + 1, j) << " " << node(i + 1, j + 1) << " " << node(i, j + 1)
                 << "\n";
      }
    }
  }
  return "$MeshFormat\n2.2 0 8\n$EndMeshFormat\n$PhysicalNames\n2\n2 2 \"left\"\n2 3 "
         "\"right\"\n$EndPhysicalNames\n$Nodes\n" +
         std::to_string(node_count) + "\n" + nodes.str() + "$EndNodes\n$Elements\n" +
         std::to_string(element_count) + "\n" + elements.str() + "$EndElements\n";
}

std::string plate_case(const std::string& gate = usual_gate, const std::string& more = "") {
  return "title = \"Plate\" # a title\n[part]\nmesh = \"plate.msh\" # the mesh\nmesh_unit = "
         "\"mm\"\n[[region]]\nname = \"near\"\ngroups = [\"left\"]\nthickness = \"4 mm\"\n"
         "permeability = \"2e-9 m2\"\nporosity = 0.8\n[[region]]\nname = \"far\"\nthickness = \"4 "
         "mm\"\npermeability = \"2e-9 m2\"\nporosity = 0.8\n[resin]\nviscosity = \"200 mPa.s\"\n"
         "[injector]\npressure_cap = \"1 bar\"\n" +
         gate + "\n# Behind the gate.\n[cavity]\npressure = \"0 bar\"\nsealed_air = false\n" + more;
}

void write_plate(const fs::path& folder, const std::string& text = plate_case()) {
  write_file(folder / "plate.msh", plate_mesh());
  write_file(folder / "plate.toml", text);
}

Json search(const TemporaryFolder& folder, std::vector<std::string> arguments, int exit_code = 0) {
  arguments.insert(arguments.begin(), {"gates", "plate.toml"});
  const ProgramOutput output = run_program(folder.path(), arguments);
  CAPTURE(output.err);
  CHECK(output.exit_code == exit_code);
  return json_of(read_file(folder.path() / "plate.gates" / "gates.json"));
}

/// All files of the output folder and what was printed, one after the other.
std::string everything(const fs::path& out, const ProgramOutput& output) {
  std::vector<fs::path> files;
  for (const fs::directory_entry& entry : fs::directory_iterator(out)) {
    files.push_back(entry.path());
  }
  std::ranges::sort(files);
  std::string text = output.out;
  for (const fs::path& file : files) {
    text += file.filename().string() + "\n" + read_file(file);
  }
  return text;
}

/// The place of the beginning of a line of a text, from 0.
std::size_t line_start(const std::string& text, std::ptrdiff_t line) {
  std::size_t start = 0;
  for (; line > 0; --line) {
    start = text.find('\n', start) + 1;
  }
  return start;
}

double coordinate(const Json& row, std::size_t gate, std::size_t axis) {
  return row["gates"][gate]["position_m"][axis].get<double>();
}

} // namespace

TEST_CASE("gates: the middle of a plate, and what is written is what was run") {
  const TemporaryFolder folder;
  write_plate(folder.path());
  const Json json = search(folder, {"--best", "3"});
  const Json& rows = json["layouts"];
  REQUIRE(rows.size() == 4);
  CHECK(json["places"] == 861);
  CHECK(rows[0]["name"] == "as it is");
  CHECK(std::abs(coordinate(rows[1], 0, 0) - 0.5) <= 1e-9);
  CHECK(std::abs(coordinate(rows[1], 0, 1) - 0.25) <= 1e-9);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    // Constant pressure: the ranking is exact, for the gate in the corner too.
    const double ranked = rows[i]["ranked_fill_time_s"];
    CHECK(std::abs(rows[i]["fill_time_s"].get<double>() / ranked - 1) <= 1e-6);
    CHECK(rows[i]["preferable"] == (i == 1));
  }
  // The plate 1.2 m x 0.6 m takes 351.200413 s (Neumann function of the rectangle); with the same
  // radius t = (A / 2 pi D) ln(ell / r0), ell in proportion to the size: ell = 0.01 exp(2 pi D t /
  // A) = 0.46123 m there, 0.38436 m here, so that t = 0.5 / (2 pi 1.25e-3) ln 38.436 = 232.30 s.
  CHECK(std::abs(rows[1]["fill_time_s"].get<double>() / 232.30 - 1) <= 1e-2);
  // From the middle it is 559.0 mm to a corner, from one corner to the other 1118.0 mm.
  CHECK(rows[1]["longest_way_m"].get<double>() >= 0.559 - 1e-4);
  CHECK(rows[1]["longest_way_m"].get<double>() <= 0.559 * 1.001);
  CHECK(rows[0]["longest_way_m"].get<double>() >= 1.118 - 1e-4);
  CHECK(rows[1]["last_places"].size() == 4); // the corners
  const fs::path written = folder.path() / "plate.gates" / "layout-1.toml";
  REQUIRE(run_program(folder.path(), {"check", written.string()}).exit_code == 0);
  REQUIRE(run_program(folder.path(), {"fill", written.string(), "--no-pictures", "-o", "again"})
              .exit_code == 0);
  const Json again = json_of(read_file(folder.path() / "again" / "summary.json"));
  CHECK(again["fill_time_s"] == rows[1]["fill_time_s"]);
  CHECK(again["peak_head_pressure_pa"] == rows[1]["peak_head_pressure_pa"]);
  const std::string text = read_file(written);
  CHECK(says(text, "title = \"Plate\" # a title\n"));
  CHECK(says(text, "mesh = \"../plate.msh\" # the mesh\n"));
  CHECK(says(text, "[[gate]]\nname = \"G1\"\nat = [500, 250, 0]\nradius = \"10 mm\"\n\n# Behind "
                   "the gate.\n[cavity]\n"));
}

TEST_CASE("gates: every place has its line and its value in the field") {
  const TemporaryFolder folder;
  write_plate(folder.path());
  search(folder, {"--best", "1", "--spacing", "100 mm"});
  std::istringstream lines(read_file(folder.path() / "plate.gates" / "places.csv"));
  std::string line;
  std::getline(lines, line);
  CHECK(line == "x_m,y_m,z_m,ranked_fill_time_s,last_x_m,last_y_m,last_z_m");
  double least = 1e300;
  std::size_t count = 0;
  while (std::getline(lines, line)) {
    std::istringstream fields(line);
    std::string field;
    for (int i = 0; i < 4; ++i) {
      std::getline(fields, field, ',');
    }
    least = std::min(least, std::stod(field));
    ++count;
  }
  CHECK(count > 30);
  CHECK(count < 120);
  const Json rows = json_of(read_file(folder.path() / "plate.gates" / "gates.json"))["layouts"];
  CHECK(rows[1]["ranked_fill_time_s"].get<double>() == doctest::Approx(least).epsilon(1e-12));
  CHECK(says(read_file(folder.path() / "plate.gates" / "gates.vtu"), "fill_time_if_gate_here"));
}

TEST_CASE("gates: two on a 2 : 1 plate stand at the quarter points") {
  const TemporaryFolder folder;
  write_plate(folder.path());
  const Json rows = search(folder, {"--count", "2", "--best", "1"})["layouts"];
  REQUIRE(rows.size() == 2);
  // Mirror symmetry: each half is a square fed in its middle.
  std::vector<double> x{coordinate(rows[1], 0, 0), coordinate(rows[1], 1, 0)};
  std::ranges::sort(x);
  CHECK(std::abs(x[0] - 0.25) <= 1e-9);
  CHECK(std::abs(x[1] - 0.75) <= 1e-9);
  CHECK(std::abs(coordinate(rows[1], 0, 1) - 0.25) <= 1e-9);
  CHECK(std::abs(coordinate(rows[1], 1, 1) - 0.25) <= 1e-9);
  const double ranked = rows[1]["ranked_fill_time_s"];
  CHECK(std::abs(rows[1]["fill_time_s"].get<double>() / ranked - 1) <= 1e-6);
  CHECK(rows[1]["gates"][0]["name"] == "G1");
  CHECK(rows[1]["gates"][1]["name"] == "G2");
}

TEST_CASE("gates: only where the options allow it") {
  const TemporaryFolder folder;
  write_plate(folder.path());
  const auto best = [&](std::vector<std::string> options) {
    options.insert(options.end(), {"--best", "1"});
    return search(folder, options)["layouts"][1];
  };
  // On the rim the middle of a long side is best, by symmetry.
  const Json rim = best({"--at-rim"});
  CHECK(std::abs(coordinate(rim, 0, 0) - 0.5) <= 1e-9);
  CHECK(std::abs(coordinate(rim, 0, 1) - 0.25) >= 0.25 - 1e-9);
  const Json edge = best({"--within", "lower edge"});
  CHECK(std::abs(coordinate(edge, 0, 0) - 0.5) <= 1e-9);
  CHECK(coordinate(edge, 0, 1) == 0);
  // Not on the left up to x = 600 mm, border included: the nearest to the middle is at 625 mm.
  const Json right = best({"--not-in", "near"});
  CHECK(std::abs(coordinate(right, 0, 0) - 0.625) <= 1e-9);
  const Json point = best({"--point", "[900, 251, 0]", "--point", "100,100,0"});
  CHECK(std::abs(coordinate(point, 0, 0) - 0.9) <= 1e-9);
  CHECK(std::abs(coordinate(point, 0, 1) - 0.25) <= 1e-9);
}

TEST_CASE("gates: the pump's flow limit counts in the full run only; the hose in both") {
  const TemporaryFolder folder;
  write_plate(folder.path(), plate_case(usual_gate));
  const double bare = search(folder, {"--best", "1"})["layouts"][1]["ranked_fill_time_s"];
  std::string text = plate_case(usual_gate);
  const std::string cap = "pressure_cap = \"1 bar\"\n";
  text.replace(text.find(cap), cap.size(),
               cap + "flow_rate = \"0.2 L/min\"\nline = { length = \"2 m\", bore = \"8 mm\" }\n");
  write_file(folder.path() / "plate.toml", text);
  const Json row = search(folder, {"--best", "1"})["layouts"][1];
  // R = 128 l / (pi d^4) = 1.98944e10 1/m3; V = 0.5 m2 * 4 mm * 0.8 = 1.6e-3 m3; mu R V / dp
  // = 63.66 s
  CHECK(row["ranked_fill_time_s"].get<double>() == doctest::Approx(bare + 63.662).epsilon(1e-4));
  // 1.6 L at 0.2 L/min take 480 s at least.
  CHECK(row["fill_time_s"].get<double>() >= 480 - 1e-6);
}

TEST_CASE("gates: the same bytes for any number of threads") {
  const TemporaryFolder folder;
  write_plate(folder.path());
  for (const char* threads : {"1", "3"}) {
    const ProgramOutput output =
        run_program(folder.path(), {"gates", "plate.toml", "--count", "2", "--best", "2",
                                    "--threads", threads, "-o", threads});
    CHECK(output.exit_code == 0);
  }
  for (const char* file : {"gates.csv", "gates.json", "gates.html", "places.csv", "gates.vtu",
                           "layout-1.toml", "layout-2.toml"}) {
    CAPTURE(file);
    const std::string one = read_file(folder.path() / "1" / file);
    CHECK(one.size() > 100);
    CHECK(one == read_file(folder.path() / "3" / file));
  }
}

TEST_CASE("gates: the text of a case keeps all but its gates") {
  const fs::path from = "parts/a.toml";
  const std::vector<MovedGate> moved{{"G 1", {1.5, 0, -2}}, {"G 2", {3, 4, 5}}};
  const std::string head =
      "fabrics = '../shelf.toml' # \xC3\xA4\n[part]\nmesh = \"a \xC3\xA4.msh\"";
  const std::string moved_head =
      "fabrics = \"../../shelf.toml\" # \xC3\xA4\n[part]\nmesh = \"../a \xC3\xA4.msh\"";
  const auto text_of = [&](const std::string& text, const std::optional<std::string>& radius) {
    return with_moved_ports(text, {moved, radius, {}}, from, "parts/out");
  };
  CHECK(text_of(head + "\n[[gate]]\nname = \"G\"\ngroup = \"x\"\nopens_at = \"3 s\"\nradius = '4 "
                       "mm'\n[gate.line]\nlength = \"2 m\"\nbore = \"8 mm\"\n\n# next\n[[vent]]\n"
                       "name = \"V\"\n[[gate]]\nname = \"other\"\n# end\n",
                std::nullopt) ==
        moved_head + "\n[[gate]]\nname = \"G 1\"\nat = [1.5, 0, -2]\nradius = \"4 mm\"\nline = { "
                     "bore = \"8 mm\", length = \"2 m\" }\n\n[[gate]]\nname = \"G 2\"\nat = [3, 4, "
                     "5]\nradius = \"4 mm\"\nline = { bore = \"8 mm\", length = \"2 m\" }\n\n# "
                     "next\n[[vent]]\nname = \"V\"\n# end\n");
  CHECK(text_of("gate = [{ name = \"G\", at = [0, 0, 0] }] # inline\n" + head + "\n", "6 mm") ==
        "gate = [{ name = \"G 1\", at = [1.5, 0, -2], radius = \"6 mm\" }, { name = \"G 2\", at = "
        "[3, 4, 5], radius = \"6 mm\" }] # inline\n" +
            moved_head + "\n");
}

TEST_CASE("gates: new vents in the text of a case, where some are and where none are") {
  const auto text_of = [](const std::string& text) {
    return with_moved_ports(text, {{{"G", {1, 2, 3}}}, {}, {{"vent 1", {4, 0, 0}, -5e4}}}, "a.toml",
                            ".");
  };
  const std::string gate = "[[gate]]\nname = \"G\"\nat = [1, 2, 3]\n";
  const std::string vent =
      "[[vent]]\nname = \"vent 1\"\nat = [4, 0, 0]\npressure = \"-50000 Pa\"\n";
  CHECK(text_of("[[vent]]\nname = \"V\"\n[[gate]]\nname = \"G\"\nat = [0, 0, 0]\n\n[[vent]]\nname "
                "= \"W\"") == vent + gate + "\n");
  CHECK(text_of("[[gate]]\nname = \"G\"\nat = [0, 0, 0]") == gate + "\n\n" + vent);
}

TEST_CASE("gates: the vents a layout takes") {
  const TemporaryFolder folder;
  write_plate(folder.path());
  const Json rows = search(folder, {"--vents", "--best", "1"})["layouts"];
  CHECK(rows[0]["vents"].is_null());
  CHECK(rows[1]["verdict"] == "filled");
  CHECK(rows[1]["vents"].get<std::size_t>() == rows[1]["last_places"].size());
  // From the middle the resin comes to the four corners last; each of them holds air of its own
  // in the end, but those that close up at the same moment within a cell are too small to tell.
  CHECK(rows[1]["vents"].get<int>() >= 2);
  CHECK(rows[1]["vents"].get<int>() <= 4);
  for (const Json& place : rows[1]["last_places"]) {
    const double x = place["position_m"][0];
    const double y = place["position_m"][1];
    CHECK(std::min(x, 1 - x) <= 0.05);
    CHECK(std::min(y, 0.5 - y) <= 0.05);
  }
  const std::string written = (folder.path() / "plate.gates" / "layout-1.toml").string();
  std::string text = read_file(written);
  text.replace(text.find("sealed_air = false\n"), 19, "");
  write_file(written, text);
  CHECK(run_program(folder.path(), {"fill", written, "--no-pictures", "-o", "again"}).exit_code ==
        0);
}

TEST_CASE("gates: no vents that help are told, and the case's own stay") {
  const TemporaryFolder folder;
  write_plate(folder.path());
  const ProgramOutput output =
      run_program(folder.path(), {"gates", "plate.toml", "--vents", "--best", "1", "--spacing",
                                  "200 mm", "--time-limit", "10 s"});
  CHECK(output.exit_code == 1);
  CHECK(says(output.out, "\n  dry with the vents of the case; --vents found none with which"));
  const Json json = json_of(read_file(folder.path() / "plate.gates" / "gates.json"));
  CHECK(json["layouts"][0]["warnings"].empty());
  CHECK(json["layouts"][1]["vents"].is_null());
  CHECK(json["layouts"][1]["reason"] == "time limit");
  CHECK(json["layouts"][1]["warnings"][0] ==
        "No vents were found with which layout 1 fills: it was run with those of the case.");
}

TEST_CASE(
    "gates: a layout whose run fails while its vents are sought has a case file all the same") {
  const TemporaryFolder folder;
  // A gap 24 powers of ten as open as the laminate is more than double precision can hold.
  std::string text = plate_case(usual_gate, "[[race_track]]\nname = \"gap\"\nalong = \"free "
                                            "edges\"\ngap = \"1 m\"\npermeability = \"1 m2\"\n");
  for (std::size_t at = 0; (at = text.find("2e-9 m2", at)) != std::string::npos;) {
    text.replace(at, 7, "1e-24 m2");
  }
  write_plate(folder.path(), text);
  const Json layout =
      search(folder, {"--vents", "--point", "500, 250, 0", "--time-limit", "1e30 s", "--no-report"},
             3)["layouts"][1];
  CHECK(layout["verdict"] == "failed");
  CHECK(layout["vents"].is_null());
  CHECK(layout["case_file"] == "layout-1.toml");
  CHECK(says(read_file(folder.path() / "plate.gates" / "layout-1.toml"), "at = [500"));
}

TEST_CASE(
    "gates: of a part in many pieces five that are not searched are told, and how many more") {
  GateSearchFacts facts;
  facts.pieces.resize(7, {false, 0.1, Vector3::Zero(), "x 0.0 mm", {"skin"}});
  CHECK(search_warnings(facts).size() == 7); // the one that is, five that are not, the last
  CHECK(search_warnings(facts).back() == "Nor is 1 more piece.");
  facts.pieces.resize(9, facts.pieces.front());
  CHECK(search_warnings(facts).back() == "Nor are 3 more pieces.");
  facts.pieces.resize(6);
  CHECK(says(search_warnings(facts).back(), "Not searched, and without a gate in any layout"));
}

TEST_CASE("gates: of a part in two pieces the larger is searched, and that is said") {
  const TemporaryFolder folder;
  write_file(folder.path() / "plate.msh", two_plates_mesh());
  write_file(folder.path() / "plate.toml", plate_case());
  const ProgramOutput output =
      run_program(folder.path(), {"gates", "plate.toml", "--best", "1", "--spacing", "100 mm"});
  CHECK(output.exit_code == 1);
  // The middles of the two: x = 200 and 600 mm, y = 100 mm.
  const std::string searched =
      "The part is in 2 pieces that nothing joins. Only the largest is searched: 66.7 % of the "
      "pore volume, round x 200 mm, y 100 mm, z 0.0 mm in region near.";
  const std::string left_out = "Not searched, and without a gate in any layout: 33.3 % of the pore "
                               "volume, round x 600 mm, y 100 mm, z 0.0 mm in region far.";
  CHECK(says(output.out, "Warning: " + searched + "\nWarning: " + left_out + "\n"));
  const fs::path out = folder.path() / "plate.gates";
  const std::string page = read_file(out / "gates.html");
  CHECK(says(page, searched));
  CHECK(says(page, left_out));
  const Json json = json_of(read_file(out / "gates.json"));
  const Json& pieces = json["pieces"];
  REQUIRE(pieces.size() == 2);
  CHECK(pieces[0]["searched"] == true);
  CHECK(std::abs(pieces[0]["pore_volume_share"].get<double>() - 2.0 / 3) <= 1e-12);
  CHECK(std::abs(pieces[0]["position_m"][0].get<double>() - 0.2) <= 1e-12);
  CHECK(pieces[0]["regions"] == Json({"near"}));
  CHECK(pieces[1]["searched"] == false);
  CHECK(std::abs(pieces[1]["pore_volume_share"].get<double>() - 1.0 / 3) <= 1e-12);
  CHECK(pieces[1]["regions"] == Json({"far"}));
  CHECK(std::abs(json["pore_volume_share_out_of_reach"].get<double>() - 1.0 / 3) <= 1e-12);
  CHECK(json["layouts"][1]["verdict"] == "short");
  CHECK(coordinate(json["layouts"][1], 0, 0) <= 0.4);

  const auto refusal = [&](const std::vector<std::string>& more) {
    std::vector<std::string> arguments{"gates", "plate.toml", "-o", "refused"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    const ProgramOutput refused = run_program(folder.path(), arguments);
    CHECK(refused.exit_code == 2);
    CHECK(!fs::exists(folder.path() / "refused"));
    return refused.err;
  };
  CHECK(says(refusal({"--vents"}), "gates: --vents: found a part in 2 pieces that nothing joins, "
                                   "expected one in one piece"));
  CHECK(says(refusal({"--point", "600, 100, 0"}),
             "gates: --point \"600, 100, 0\": found a place on a piece of the part that nothing "
             "joins to the largest, expected one on the largest, which alone is searched"));
}

TEST_CASE("gates: no vents are sought in place of one a gate waits for") {
  const TemporaryFolder folder;
  write_plate(folder.path(),
              plate_case(usual_gate + "closes = \"when side is reached\"\n" +
                         "[[vent]]\nname = \"side\"\nat = [1000, 0, 0]\npressure = \"0 bar\"\n"));
  const ProgramOutput refused =
      run_program(folder.path(), {"gates", "plate.toml", "--vents", "--best", "1"});
  CHECK(refused.exit_code == 2);
  CHECK(says(refused.err, "plate.toml: gate[G1].closes: found \"when side is reached\", expected a "
                          "gate that waits for no vent, or no --vents"));
  CHECK(!fs::exists(folder.path() / "plate.gates"));
}

TEST_CASE("gates: a layout that was changed since is not lost") {
  const TemporaryFolder folder;
  write_plate(folder.path());
  const std::vector<std::string> arguments{"gates", "plate.toml", "--best",
                                           "2",     "--spacing",  "200 mm"};
  const auto out = folder.path() / "plate.gates";
  REQUIRE(run_program(folder.path(), arguments).exit_code == 0);
  REQUIRE(run_program(folder.path(), arguments).exit_code == 0); // over its own
  const std::string mine = read_file(out / "layout-2.toml") + "# mine\n";
  write_file(out / "layout-2.toml", mine);
  const ProgramOutput refused = run_program(folder.path(), arguments);
  CHECK(refused.exit_code == 4);
  CHECK(says(refused.err, "plate.gates: found layout-2.toml, changed since tidemark wrote it; this "
                          "run would replace it: move or rename what you want to keep, "));
  CHECK(read_file(out / "layout-2.toml") == mine);
  CHECK(fs::exists(out / "gates.json"));
  fs::rename(out / "layout-2.toml", out / "mine.toml");
  CHECK(run_program(folder.path(), arguments).exit_code == 0);
  CHECK(read_file(out / "mine.toml") == mine);
}

TEST_CASE("gates: which layouts are preferable") {
  const auto row = [](std::optional<double> time, double peak) {
    LayoutRow result;
    result.state = time ? RunState::filled : RunState::short_fill;
    result.fill_time = time;
    result.peak_head_pressure = peak;
    result.peak_till_near_end = peak;
    return result;
  };
  // Slow and soft, fast and hard, beaten by the first, short, and the first again to three digits.
  const std::vector<LayoutRow> rows{row(100, 1e5), row(50, 2e5), row(110, 1e5), row({}, 1e4),
                                    row(100.1, 1e5)};
  CHECK(preferable_rows(rows) == std::vector<bool>{true, true, false, false, true});
}

TEST_CASE("gates: mistakes are exit code 2 and write nothing") {
  struct Mistake {
    std::vector<std::string> options;
    std::string says;
  };
  const TemporaryFolder folder;
  write_plate(folder.path());
  const std::vector<Mistake> mistakes{
      {{"--count", "4"}, "--count: found \"4\", expected a whole number from 1 to 3"},
      {{"--best", "-1"}, "--best: found \"-1\", expected a whole number from 0 to 100"},
      {{"--best", "many"}, "--best: found \"many\", expected a whole number from 0 to 100"},
      {{"--spacing", "0 mm"}, "--spacing: found \"0 mm\", expected a length above zero"},
      {{"--spacing", "3 bar"},
       "--spacing: found \"3 bar\", which is a pressure, expected a length"},
      {{"--radius", "-1 mm"}, "--radius: found \"-1 mm\", expected a length above zero"},
      {{"--radius", "2 m"}, "--radius: found 2000 mm, expected at most half the part (500 mm)"},
      {{"--apart", "-1 mm"}, "--apart: found \"-1 mm\", expected a length of zero or more"},
      {{"--within", "lower edg"},
       "--within: found \"lower edg\", expected a group of the mesh: lower edge, left, right"},
      {{"--not-in", "nera"}, "--not-in: found \"nera\", expected a region of the case: near, far"},
      {{"--not-in", "near", "--not-in", "far"}, "no place for a gate is left"},
      {{"--point", "1,2"}, "--point \"1,2\": expected three numbers in the unit of the mesh"},
      {{"--point", "1,2,3,4"}, "expected three numbers"},
      {{"--point", "1,,2,3"}, "expected three numbers"},
      {{"--point", "nan,0,0"}, "expected three numbers"},
      {{"--point", "5000,0,0"}, "found a point off the part, expected one within 20 mm"},
      {{"--point", "1e300,0,0"}, "found a point off the part"},
      {{"--point", "0,0,0", "--point", "1,1,0"}, "the same node as another point"},
      {{"--point", "0,0,0", "--at-rim"}, "--at-rim does not go with --point"},
      {{"--point", "0,0,0", "--within", "left"}, "--within does not go with --point"},
      {{"--point", "0,0,0", "--count", "2"}, "found 1 place, expected as many as gates, 2"},
      {{"--best", "0", "--vents"},
       "gates: --vents does not go with --best 0, which ranks single places and runs no layout: "
       "found both, expected one of them"},
      {{"--best", "0", "--apart", "1 mm"}, "gates: --apart does not go with --best 0"},
      {{"--best", "0", "--count", "2"}, "gates: --count 2 does not go with --best 0"},
      {{"--frames", "3"}, "gates has no option --frames"},
      {{"plate.toml"}, "found 2 cases, expected one"}};
  for (const Mistake& mistake : mistakes) {
    std::vector<std::string> arguments{"gates", "plate.toml"};
    arguments.insert(arguments.end(), mistake.options.begin(), mistake.options.end());
    const ProgramOutput output = run_program(folder.path(), arguments);
    CAPTURE(mistake.says);
    CAPTURE(output.err);
    CHECK(output.exit_code == 2);
    CHECK(says(output.err, mistake.says));
    CHECK(!fs::exists(folder.path() / "plate.gates"));
  }
}

TEST_CASE("gates: --best 0 tells the best of the ranking, and that no layout was run") {
  const TemporaryFolder folder;
  write_plate(folder.path());
  const ProgramOutput output =
      run_program(folder.path(), {"gates", "plate.toml", "--best", "0", "--count", "1", "--point",
                                  "0, 0, 0", "--point", "500, 250, 0"});
  CHECK(output.exit_code == 0);
  CHECK(says(output.out, "2 places ranked by the fill time"));
  CHECK(says(output.out, "\nThe fastest: about ")); // the middle, a corner has twice as far to go
  CHECK(says(output.out, " min at x 500 mm, y 250 mm, z 0.0 mm in region near; places.csv has "
                         "all.\nNo layout is run in full (--best 0), only the case as it is.\n"));
  const std::string page = read_file(folder.path() / "plate.gates" / "gates.html");
  CHECK(says(page, "No layout was run in full. With the gates of the case the part fills, in"));
  CHECK(says(page, " min at x 500 mm, y 250 mm, z 0.0 mm in region near; places.csv has all.</p>"));
  const ProgramOutput one =
      run_program(folder.path(), {"gates", "plate.toml", "--best", "1", "--spacing", "200 mm"});
  CHECK(!says(one.out, "The fastest: "));
}

TEST_CASE("gates: a gate without radius, and an input where the output would go, are refused") {
  const TemporaryFolder folder;
  write_plate(folder.path(), plate_case("[[gate]]\nname = \"G1\"\nat = [0, 0, 0]\n"));
  const ProgramOutput output = run_program(folder.path(), {"gates", "plate.toml"});
  CHECK(output.exit_code == 2);
  CHECK(says(output.err, "plate.toml: gate[G1].radius: found none, expected the radius of the port "
                         "there or with --radius"));
  CHECK(search(folder, {"--radius", "8 mm", "--best", "0"})["gate_radius_m"] == 0.008);
  fs::create_directory(folder.path() / "out");
  write_file(folder.path() / "out" / "plate.msh", plate_mesh());
  write_file(folder.path() / "out" / "layout-1.toml", plate_case());
  const ProgramOutput same =
      run_program(folder.path(), {"gates", "out/layout-1.toml", "-o", "out"});
  CHECK(same.exit_code == 2);
  CHECK(says(same.err, "lies in the output folder under a name this run writes"));
  CHECK(read_file(folder.path() / "out" / "layout-1.toml") == plate_case());
}

TEST_CASE("gates: places at vents are left out, and a layout that does not fill says where") {
  const TemporaryFolder folder;
  std::string text = plate_case();
  text.replace(text.find("sealed_air = false\n"), 19, "");
  write_plate(folder.path(),
              text + "[[vent]]\nname = \"V\"\nat = [1000, 500, 0]\npressure = \"0 bar\"\n");
  const Json json = search(folder, {"--best", "1"});
  CHECK(json["places_left_out_at_vents"] == 1);
  const Json& rows = json["layouts"];
  CHECK(rows[0]["verdict"] == "filled");
  // From the middle the four corners come last together, and only one of them has a vent: when the
  // resin has closed that, air is shut in elsewhere.
  CHECK(rows[1]["verdict"] == "short");
  CHECK(rows[1]["reason"] == "trapped air");
  REQUIRE(!rows[1]["last_places"].empty());
  CHECK(rows[1]["last_places"][0]["time_s"].is_null());
}

TEST_CASE("gates: Ctrl-C leaves valid files") {
  const TemporaryFolder folder;
  write_plate(folder.path());
  const Program program(folder.path(), {"gates", "plate.toml", "--steps", "100000", "--threads",
                                        "1", "--best", "9", "-o", "out"});
  const fs::path out = folder.path() / "out";
  for (int tries = 0; tries < 3000 && !fs::exists(out); ++tries) {
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  REQUIRE(fs::exists(out));
  program.send(SIGINT);
  const ProgramOutput output = program.wait();
  CAPTURE(output.err);
  CHECK(output.exit_code == 1);
  CHECK(says(output.err,
             "Interrupted: the files hold what was ranked and run so far; the same command "
             "goes on.\n"));
  const Json json = json_of(read_file(out / "gates.json"));
  CHECK(json["layouts"][0]["name"] == "as it is");
  CHECK(json["layouts"].back()["verdict"] == "not run");
  CHECK(read_file(out / "gates.csv").ends_with("\n"));
}

TEST_CASE("gates: a command that was cut off anywhere goes on to the same bytes") {
  for (const bool with_vents : {false, true}) {
    CAPTURE(with_vents);
    const TemporaryFolder folder;
    write_plate(folder.path());
    std::vector<std::string> arguments{"gates",     "plate.toml", "--best",  "2",
                                       "--spacing", "100 mm",     "--steps", "30"};
    if (with_vents) {
      arguments.emplace_back("--vents");
    }
    const fs::path out = folder.path() / "plate.gates";
    const std::string whole = everything(out, run_program(folder.path(), arguments));
    CHECK(says(whole, "layout-2.toml\n"));
    CHECK(says(whole, "gates.html\n"));
    CHECK(!says(whole, "gates.runs\n"));
    // A whole record stays where a file of the end cannot be written.
    fs::remove_all(out);
    fs::create_directories(out / ".tidemark-gates.json.part" / "in the way");
    CHECK(run_program(folder.path(), arguments).exit_code == 4);
    const std::string record = read_file(out / "gates.runs");
    const auto lines = std::ranges::count(record, '\n');
    CHECK(lines >= (with_vents ? 1 + 3 + 2 * 3 : 1 + 3));
    for (std::ptrdiff_t line = 0; line <= lines; line += with_vents ? 3 : 1) {
      CAPTURE(line);
      fs::remove_all(out);
      fs::create_directories(out);
      // Cut off three bytes into a line, as by a loss of power.
      write_file(out / "gates.runs", record.substr(0, line_start(record, line) + 3));
      const ProgramOutput rest = run_program(folder.path(), arguments);
      CHECK(rest.exit_code == 0);
      CHECK(says(rest.err, "Going on: ") == (line > 1));
      CHECK(everything(out, rest) == whole);
    }
  }
}

TEST_CASE("gates: killed or interrupted on the way it goes on to the same bytes") {
  const TemporaryFolder folder;
  write_plate(folder.path());
  const std::vector<std::string> arguments{"gates",   "plate.toml", "--best",    "4",
                                           "--steps", "400",        "--threads", "1",
                                           "--vents", "--spacing",  "100 mm"};
  const fs::path out = folder.path() / "plate.gates";
  const fs::path record = out / "gates.runs";
  const std::string whole = everything(out, run_program(folder.path(), arguments));
  for (const int signal : {SIGKILL, SIGINT}) {
    CAPTURE(signal);
    fs::remove_all(out);
    const Program program(folder.path(), arguments);
    const auto lines = [&] { return std::ranges::count(read_file(record), '\n'); };
    for (int tries = 0; tries < 60000 && lines() < 5; ++tries) {
      std::this_thread::sleep_for(std::chrono::milliseconds(2));
    }
    program.send(signal);
    const ProgramOutput output = program.wait();
    REQUIRE(fs::exists(record));
    if (signal == SIGINT) {
      const Json json = json_of(read_file(out / "gates.json"));
      CHECK(json["layouts"].size() == 5);
      CHECK(json["layouts"][4]["verdict"] == "not run");
      CHECK(json["layouts"][4]["case_file"] == ""); // it would be without the vents sought
      CHECK(!fs::exists(out / "layout-4.toml"));
      CHECK(says(output.err, "A layout whose vents are not found yet has no case file.\n"));
      CHECK(read_file(out / "gates.html").ends_with("</html>\n"));
    }
    const ProgramOutput rest = run_program(folder.path(), arguments);
    CHECK(says(rest.err, " in search of vents were done before.\n"));
    CHECK(everything(out, rest) == whole);
  }
}

TEST_CASE("gates: a record of other settings is refused in words, and kept") {
  const TemporaryFolder folder;
  write_plate(folder.path());
  const fs::path out = folder.path() / "plate.gates";
  fs::create_directories(out / ".tidemark-gates.json.part" / "in the way");
  const auto run = [&](std::vector<std::string> more) {
    more.insert(more.begin(), {"gates", "plate.toml", "--best", "1", "--spacing", "200 mm"});
    return run_program(folder.path(), more);
  };
  CHECK(run({"--no-report"}).exit_code == 4);
  fs::remove_all(out / ".tidemark-gates.json.part");
  const std::string record = read_file(out / "gates.runs");
  const ProgramOutput other = run({"--vents", "--steps", "50"});
  CHECK(other.exit_code == 2);
  CHECK(says(other.err, "gates.runs:1: vents sought: found \"no\", expected \"yes\"\n"));
  CHECK(says(other.err, "gates.runs:1: steps: found \"100\", expected \"50\": the runs kept there "
                        "belong to what was found"));
  const std::string text = read_file(folder.path() / "plate.toml");
  write_file(folder.path() / "plate.toml", text + "# more\n");
  CHECK(says(run({}).err, "gates.runs:1: case: found runs with other content of plate.toml, "
                          "expected what it holds now"));
  std::string thicker = text;
  thicker.replace(thicker.find("4 mm"), 4, "5 mm");
  write_file(folder.path() / "plate.toml", thicker);
  CHECK(says(run({}).err, "gates.runs:1: case: found \"region[near].thickness = 4 mm\", expected "
                          "\"region[near].thickness = 5 mm\""));
  write_file(folder.path() / "plate.toml", text);
  std::string older = record;
  older.replace(older.find("\"program\":\"") + 11, 16, "0123456789abcdef");
  write_file(out / "gates.runs", older);
  CHECK(says(run({}).err, "gates.runs:1: program: found runs of another build of tidemark"));
  CHECK(read_file(out / "gates.runs") == older);
  // What is no run is told with its number.
  std::string damaged = record;
  damaged.replace(damaged.find("\"filled_fraction\""), 17, "\"filled_fractional\"");
  write_file(out / "gates.runs", damaged);
  CHECK(says(run({}).err, "gates.runs: run "));
  // Runs without a picture are done again where a page is wanted.
  write_file(out / "gates.runs", record);
  const ProgramOutput again = run({});
  CHECK(again.exit_code == 0);
  CHECK(again.err == "Going on: 0 of 2 runs were done before. 2 more were run with --no-report "
                     "and are run again, for the page's pictures.\n");
  CHECK(fs::exists(out / "gates.html"));
}

TEST_CASE("gates: a record with a node the mesh has not is refused, and what is there stays") {
  const TemporaryFolder folder;
  write_plate(folder.path()); // nodes 0 to 860
  const fs::path out = folder.path() / "plate.gates";
  const std::vector<std::string> arguments{"gates",     "plate.toml", "--best", "1",
                                           "--spacing", "200 mm",     "--vents"};
  REQUIRE(run_program(folder.path(), arguments).exit_code == 0);
  const std::string table = read_file(out / "gates.csv");
  // The lines of a whole record, which stays where a file of the end cannot be written.
  fs::create_directories(folder.path() / "stuck" / ".tidemark-gates.json.part" / "in the way");
  std::vector<std::string> stuck = arguments;
  stuck.insert(stuck.end(), {"-o", "stuck"});
  REQUIRE(run_program(folder.path(), stuck).exit_code == 4);
  const std::string record = read_file(folder.path() / "stuck" / "gates.runs");
  const std::string next = "\"next\":";
  const std::string vents = "\"vents_sought\":true,\"vents\":[";
  for (const std::string& key : {next, vents}) {
    for (const std::string number : {"861", "-1", "4294967296", "1.5"}) {
      CAPTURE(number);
      const std::size_t begin = record.find(key) + key.size();
      REQUIRE(begin > key.size());
      const std::size_t end = record.find_first_of(",}]", begin);
      const std::string damaged = record.substr(0, begin) + number + record.substr(end);
      write_file(out / "gates.runs", damaged);
      const ProgramOutput refused = run_program(folder.path(), arguments);
      CHECK(refused.exit_code == 2);
      CHECK(says(refused.err, "gates.runs: run "));
      CHECK(says(refused.err, ": found node " + number +
                                  ", expected a whole number from 0 to 860, one of the mesh; "
                                  "remove the file to begin anew\n"));
      CHECK(read_file(out / "gates.runs") == damaged);
      CHECK(read_file(out / "gates.csv") == table);
    }
  }
}

TEST_CASE("gates: what is advised where a run stays dry fits what was given") {
  LayoutRow row;
  row.state = RunState::short_fill;
  row.last = {{{0.7, 0.1, 0}, "ribs", {}, "x 700 mm, y 100 mm, z 0.0 mm"}};
  std::vector<LayoutRow> rows(2, row);
  rows[0].name = "as it is";
  rows[1].name = "layout 1";
  GateSearchFacts facts;
  const std::string case_words =
      "as it is:\n  dry, so a vent is missing (tidemark vents seeks those it takes) or the resin "
      "does not come\n    x 700 mm";
  const std::string without = layouts_text(facts, rows);
  CHECK(says(without, case_words));
  CHECK(says(without, "layout 1:\n  dry, so a vent is missing (--vents seeks those it takes) or "
                      "the resin does not come\n    x 700 mm"));
  facts.seeks_vents = true;
  const std::string with = layouts_text(facts, rows);
  CHECK(says(with, case_words)); // --vents leaves the case as it is
  CHECK(says(with, "layout 1:\n  dry with the vents of the case; --vents found none with which it "
                   "fills\n    x 700 mm"));
  rows[1].vents = 2; // of a layout that fills
  CHECK(says(layouts_text(facts, rows), "layout 1:\n  fills with 2 vents at\n    x 700 mm"));
}

TEST_CASE("gates: where air closed up is told") {
  LayoutRow row;
  row.name = "layout 1";
  row.state = RunState::filled;
  row.fill_time = 60;
  row.closed_air = {{{{0.7, 0.1, 0}, "ribs", 90.0, "x 700 mm, y 100 mm, z 0.0 mm"}, 2e-6, -5e4}};
  CHECK(says(layouts_text({}, {row}),
             "  air shut in that closed up, to look at on the first part\n"
             "    1:30 min at x 700 mm, y 100 mm, z 0.0 mm in region ribs, "
             "2.00 mL\n"));
  const Json json = json_of(layouts_json({}, {row}))["layouts"][0]["suspect_zones"];
  REQUIRE(json.size() == 1);
  CHECK(json[0]["position_m"] == Json({0.7, 0.1, 0.0}));
  CHECK(json[0]["volume_m3"] == 2e-6);
  CHECK(json[0]["sealed_at_s"] == 90.0);
  CHECK(says(layouts_csv({row}), ",0.7 0.1 0,"));
}

TEST_CASE("gates: how much of the gel time is left") {
  const TemporaryFolder folder;
  std::string text = plate_case();
  const std::string viscosity = "viscosity = \"200 mPa.s\"\n";
  text.replace(text.find(viscosity), viscosity.size(), viscosity + "gel_time = \"30 min\"\n");
  write_plate(folder.path(), text);
  const Json rows = search(folder, {"--best", "1", "--spacing", "200 mm"})["layouts"];
  for (const Json& row : rows) { // the first resin is in the part from the start to the end
    const double time = row["fill_time_s"];
    CHECK(row["gel_margin_s"].get<double>() == doctest::Approx(1800 - time));
    CHECK(row["gel_share"].get<double>() == doctest::Approx(time / 1800));
  }
  LayoutRow row;
  row.name = "layout 1";
  row.state = RunState::filled;
  row.fill_time = 600;
  row.gel_share = 0.25; // with heat, where no age tells
  CHECK(says(layouts_text({}, {row}), "longest way  gel margin\nlayout 1"));
  CHECK(says(layouts_text({}, {row}), "75.0 %\n"));
  row.gel_margin = 1200;
  CHECK(says(layouts_text({}, {row}), "20:00 min\n"));
}
