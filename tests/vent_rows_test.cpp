// What is told of how far vents may move.
#include "io/vent_rows.hpp"
#include "tests/support/json_text.hpp"
#include "tests/support/says.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

using namespace tidemark;

namespace {

MovedPlace at(double distance) {
  MovedPlace place;
  place.distance = distance;
  return place;
}

/// One vent that fills 30 mm off and no more 40 mm off in one way, as far as was tried in another.
VentSurvey survey() {
  VentSurvey survey;
  survey.fills = true;
  survey.fill_time = 60.0;
  survey.reach = 0.1;
  VentRow vent;
  vent.name = "V1";
  vent.ways = {{Vector3(1, 0, 0), at(0.03), at(0.04)}, {Vector3(0, 1, 0), at(0.1), std::nullopt}};
  survey.vents = {vent};
  survey.trials = 2;
  survey.trials_done = 2;
  return survey;
}

} // namespace

TEST_CASE("vents: the least room of all directions is told once all were tried") {
  const std::string text = survey_text(survey());
  CHECK(says(text, "30.0 mm"));
  CHECK(says(text, "in eight directions"));
  const nlohmann::json json = json_of(survey_json(survey()));
  CHECK(json["was_cut_off"] == false);
  CHECK(json["vents"][0]["may_move_m"] == doctest::Approx(0.03));
}

TEST_CASE("vents: no room is told while directions were not tried") {
  VentSurvey cut = survey();
  cut.trials = 9;
  cut.vents[0].directions_not_done = 7;
  const std::string text = survey_text(cut);
  CHECK(says(text, "not known"));
  CHECK(says(text, "Cut off when 2 of 9 directions and omissions were tried"));
  CHECK_FALSE(says(text, "30.0 mm"));
  CHECK_FALSE(says(text, "in eight directions"));
  const nlohmann::json json = json_of(survey_json(cut));
  CHECK(json["was_cut_off"] == true);
  CHECK(json["trials_done"] == 2);
  CHECK(json["vents"][0]["may_move_m"].is_null());
  CHECK(json["vents"][0]["directions_not_done"] == 7);
}
