#include "io/vent_rows.hpp"

#include "io/comparison_writer.hpp"
#include "io/json_values.hpp"
#include "io/number_text.hpp"
#include "io/shop_units.hpp"
#include "io/spoken.hpp"
#include "io/summary.hpp"
#include "io/text_table.hpp"
#include "io/wording.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <limits>

namespace tidemark {

namespace {

using Json = nlohmann::ordered_json;

std::string without_text(const VentSurvey& survey, const VentRow& vent) {
  if (!vent.awaited_by.empty()) {
    return (vent.awaited_by.size() == 1 ? "gate " : "gates ") +
           enumeration(vent.awaited_by, " and ") +
           (vent.awaited_by.size() == 1 ? " waits for it" : " wait for it");
  }
  if (!vent.without) {
    return survey.vents.size() == 1 ? "the only one" : "-";
  }
  const WithoutVent& without = *vent.without;
  return without.reason.empty()
             ? "fills"
             : without.reason + ", " + as_small_litres(without.dry_volume) + " stay dry";
}

std::string room_text(const VentRow& vent) {
  if (vent.directions_not_done > 0) {
    return "not known";
  }
  const auto room = room_of(vent);
  if (!room) {
    return "-";
  }
  if (!room->shut_in) {
    return as_millimetres(room->distance) + " and more";
  }
  return room->distance > 0 ? as_millimetres(room->distance)
                            : "under " + as_millimetres(room->shut_in->distance);
}

} // namespace

std::vector<TextRow> survey_table(const VentSurvey& survey) {
  std::vector<TextRow> table{{"", "reached", "without it", "may move"}};
  for (const VentRow& vent : survey.vents) {
    table.push_back({vent.name, vent.reached_at ? as_minutes(*vent.reached_at) : "-",
                     without_text(survey, vent), room_text(vent)});
  }
  return table;
}

namespace {

/// Why no vents were sought, and what to do about it, as tidemark fill says it.
std::string skipped_text(const VentSurvey& survey) {
  const std::string start = "The search for vents was skipped: the part does not fill even where "
                            "all air is let out, so no vent helps.\n";
  return start + (survey.skipped == reason_word(ShortReason::no_path)
                      ? "What to look at: a gate on each piece of the part, or a mesh whose pieces "
                        "are joined; where all gates close, how long they stay open.\n"
                      : "It is short by " + survey.skipped + " then; tidemark fill tells more.\n");
}

} // namespace

std::string survey_verdict(const VentSurvey& survey) {
  const std::string vents = counted(survey.vents.size(), "vent", "vents");
  if (survey.was_cut_off) {
    return survey.fills ? "The part fills in " + as_minutes(*survey.fill_time) + " with " + vents +
                              "; cut off before it was known whether fewer do.\n"
                        : "Cut off before it was known whether the part fills.\n";
  }
  if (survey.fills) {
    return "The part fills in " + as_minutes(*survey.fill_time) + " with " + vents +
           (survey.is_sought ? " found by the search.\n" : " as in the case.\n");
  }
  std::string text = "The part does NOT fill with " + vents +
                     (survey.is_sought ? " found by the search" : " as in the case") + ": " +
                     survey.reason + ", " + as_percent(survey.filled_fraction) + " filled.\n";
  if (survey.dry) {
    text += "Largest dry place: " + survey.dry->text + " in region " + survey.dry->region + ".\n";
  }
  return text + (!survey.skipped.empty() ? skipped_text(survey) : "");
}

namespace {

std::string places_of(const VentSurvey& survey) {
  std::string text;
  for (const VentRow& vent : survey.vents) {
    text += vent.name + " at " + vent.text +
            (vent.region.empty() ? "" : " in region " + vent.region) + "\n";
    for (const std::string& error : vent.errors) {
      text += "  a trial failed: " + error + "\n";
    }
    const auto room = room_of(vent);
    if (room && room->shut_in) {
      text += "  " + as_small_litres(room->shut_in->dry_volume) + " stay dry if it stands " +
              as_millimetres(room->shut_in->distance) + " off, at " + room->shut_in->text + "\n";
    }
  }
  return text;
}

std::string spare_text(const VentSurvey& survey) {
  std::vector<std::string> names;
  for (const VentRow& vent : survey.vents) {
    if (vent.without && vent.without->may_be) {
      names.push_back(vent.name);
    }
  }
  if (names.empty()) {
    return "";
  }
  std::string text = names.size() > 1 ? "One of these can be spared: " : "Can be spared: ";
  for (std::size_t i = 0; i < names.size(); ++i) {
    text += (i == 0 ? "" : ", ") + names[i];
  }
  return text + ".\n";
}

Json place_json(const std::optional<MovedPlace>& place) {
  if (!place) {
    return {};
  }
  return {{"distance_m", place->distance},
          {"dry_volume_m3", place->dry_volume},
          {"position_m", position_json(place->position)}};
}

Json vent_json(const VentRow& vent) {
  Json json;
  json["name"] = vent.name;
  json["position_m"] = vent.position ? position_json(*vent.position) : Json();
  json["region"] = vent.region;
  json["reached_at_s"] = number_or_null(vent.reached_at);
  json["awaited_by"] = vent.awaited_by;
  json["without"] = Json();
  if (vent.without) {
    json["without"] = {{"verdict", vent.without->reason.empty() ? "filled" : "short"},
                       {"may_be", vent.without->may_be},
                       {"dry_volume_m3", vent.without->dry_volume},
                       {"reason", vent.without->reason},
                       {"filled_fraction", vent.without->filled_fraction}};
  }
  json["directions_not_done"] = vent.directions_not_done;
  const auto room = room_of(vent);
  json["may_move_m"] = room ? Json(room->distance) : Json();
  json["nearest_short"] = room ? place_json(room->shut_in) : Json();
  json["errors"] = vent.errors;
  json["ways"] = Json::array();
  for (const MovedVent& way : vent.ways) {
    json["ways"].push_back({{"direction", position_json(way.direction)},
                            {"fills_to", place_json(way.fills)},
                            {"short_from", place_json(way.shut_in)}});
  }
  return json;
}

} // namespace

std::optional<VentRoom> room_of(const VentRow& vent) {
  if (vent.ways.empty() || vent.directions_not_done > 0) {
    return std::nullopt;
  }
  VentRoom room{0, std::nullopt};
  double least = std::numeric_limits<double>::infinity();
  double most = 0;
  for (const MovedVent& way : vent.ways) {
    const double fills = way.fills ? way.fills->distance : 0;
    most = std::max(most, fills);
    if (way.shut_in) {
      least = std::min(least, fills);
      const bool is_nearer = !room.shut_in || way.shut_in->distance < room.shut_in->distance;
      room.shut_in = is_nearer ? way.shut_in : room.shut_in;
    }
  }
  // Where it fills at every place of a direction, that ends at the rim or as far as was tried.
  room.distance = room.shut_in ? least : most;
  return room;
}

bool trials_were_cut_off(const VentSurvey& survey) {
  return survey.trials_done < survey.trials;
}

std::string survey_remarks(const VentSurvey& survey) {
  std::string text = spare_text(survey);
  if (survey.let_air_out) {
    text += "The case lets all air out (sealed_air = false); here air without a vent is shut in.\n";
  }
  if (trials_were_cut_off(survey)) {
    text += "Cut off when " + std::to_string(survey.trials_done) + " of " +
            std::to_string(survey.trials) +
            " directions and omissions were tried: what is not known may shut in air.\n";
  } else if (survey.fills && !survey.was_cut_off && survey.reach > 0) {
    text += "Each vent was moved alone, up to " + as_millimetres(survey.reach) +
            " along the surface, in eight directions. Between the places tried "
            "nothing is known; air in less than a cell of the mesh does not count" +
            (survey.allowed > 0
                 ? ", and " + as_small_litres(survey.allowed) + " may stay dry.\n"
                 : std::string(".\nA vent away from the last place always shuts in some air: "
                               "--allow says how much may stay.\n"));
  }
  return text;
}

std::string survey_text(const VentSurvey& survey) {
  return survey.title + "\n" + survey_verdict(survey) + "\n" + table_text(survey_table(survey)) +
         "\n" + places_of(survey) + survey_remarks(survey) + warnings_text(survey.warnings) +
         "A prediction is no substitute for a trial shot.\n";
}

std::string survey_json(const VentSurvey& survey) {
  Json json;
  json["title"] = survey.title;
  json["program"] = "tidemark " TIDEMARK_VERSION;
  json["case_file"] = survey.case_file;
  json["vents_sought"] = survey.is_sought;
  json["was_cut_off"] = survey.was_cut_off || trials_were_cut_off(survey);
  json["trials"] = survey.trials;
  json["trials_done"] = survey.trials_done;
  json["verdict"] = survey.fills ? "filled" : "short";
  json["reason"] = survey.reason;
  json["fill_time_s"] = number_or_null(survey.fill_time);
  json["filled_fraction"] = survey.filled_fraction;
  json["may_stay_dry_m3"] = survey.allowed;
  json["moved_up_to_m"] = survey.reach;
  json["vents"] = Json::array();
  for (const VentRow& vent : survey.vents) {
    json["vents"].push_back(vent_json(vent));
  }
  json["warnings"] = survey.warnings;
  return summary_text(json);
}

std::string survey_csv(const VentSurvey& survey) {
  std::string text = "name,x_m,y_m,z_m,region,reached_at_s,without,without_dry_m3,"
                     "may_move_m,short_from_m,short_x_m,short_y_m,short_z_m\n";
  const auto add_point = [](std::vector<std::string>& fields, const Vector3* point) {
    for (int axis = 0; axis < 3; ++axis) {
      fields.push_back(point != nullptr ? number_text((*point)[axis]) : "");
    }
  };
  for (const VentRow& vent : survey.vents) {
    std::vector<std::string> fields{vent.name};
    add_point(fields, vent.position ? &*vent.position : nullptr);
    fields.push_back(vent.region);
    fields.push_back(number_or_empty(vent.reached_at));
    fields.push_back(!vent.without                  ? ""
                     : vent.without->reason.empty() ? "filled"
                                                    : vent.without->reason);
    fields.push_back(vent.without ? number_text(vent.without->dry_volume) : "");
    const auto room = room_of(vent);
    fields.push_back(room ? number_text(room->distance) : "");
    const bool has_end = room && room->shut_in;
    fields.push_back(has_end ? number_text(room->shut_in->distance) : "");
    add_point(fields, has_end ? &room->shut_in->position : nullptr);
    text += csv_line(fields);
  }
  return text;
}

} // namespace tidemark
