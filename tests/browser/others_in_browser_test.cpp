// The reports of compare, gates, vents, window and scatter as a person uses them.
#include "tests/browser/page_use.hpp"
#include "tests/support/program.hpp"

#include <doctest/doctest.h>

#include <string>
#include <vector>

using namespace tidemark;
using Json = nlohmann::json;

namespace {

const std::string strip =
    (std::filesystem::path(TIDEMARK_SOURCE_DIR) / "cases/strip-with-cap/strip.toml").string();

struct OpenPage {
  TemporaryFolder folder;
  Browser browser;
  OpenPage(std::vector<std::string> arguments, const std::string& name) {
    arguments.insert(arguments.end(), {"-o", "out", "--quiet", "--steps", "50"});
    REQUIRE(run_program(folder.path(), arguments).exit_code <= 1);
    browser.resize(1200, 900);
    browser.open(folder.path() / "out" / name);
  }
};

} // namespace

// At half the flow, 1e-6 m3/s, the strip of cases/strip-with-cap never comes to its cap (the front
// would be at 1.2 m) and fills in 0.96e-3 m3 / 1e-6 m3/s = 960 s; with the flow of the case half of
// it is full at 240 s.
TEST_CASE("compare in a browser: one slider and one scale for all, and they turn together") {
  OpenPage page({"compare", strip, "--try", "slow: injector.flow_rate = 0.06 L/min"},
                "compare.html");
  Browser& browser = page.browser;
  CHECK(browser.complaints() == std::vector<std::string>{});
  CHECK(browser.requests().size() == 1);
  CHECK(
      says(text_of(browser, ".headline"), "Both runs fill the part. The fastest is \"as it is\""));
  CHECK(says(text_of(browser, ".stages"), "slow fills in 16:00 min"));
  leave_only_colours(browser);
  const double all = coloured(picture(browser, 0));
  REQUIRE(all > 500);
  CHECK(coloured(picture(browser, 1)) == doctest::Approx(all).epsilon(0.01));
  // At the end the fast one has come to 544 s of the 960 s of the scale only: other colours.
  CHECK(picture(browser, 0) != picture(browser, 1));
  set_slider(browser, 250);
  CHECK(says(text_of(browser, ".told"), "4:00 min"));
  CHECK(coloured(picture(browser, 0)) / all == doctest::Approx(0.5).epsilon(0.15));
  CHECK(coloured(picture(browser, 1)) / all == doctest::Approx(0.25).epsilon(0.2));

  const Json before = picture(browser, 1);
  browser.evaluate("document.querySelector('.stage canvas').focus()");
  browser.press("ArrowLeft");
  CHECK(picture(browser, 1) != before);
  CHECK(faults_for_people(browser) == "");
  // On paper the three plots go together: two side by side on one sheet left the third alone.
  CHECK(browser.evaluate("document.querySelectorAll('.plots .plot').length") == 3);
  browser.send("Emulation.setEmulatedMedia", {{"media", "print"}});
  CHECK(browser.evaluate("getComputedStyle(document.querySelector('.plots')).breakInside") ==
        "avoid");
}

TEST_CASE("gates in a browser: the map of places, the layouts and their fillings") {
  OpenPage page({"gates", strip, "--radius", "8 mm", "--spacing", "50 mm", "--best", "1"},
                "gates.html");
  Browser& browser = page.browser;
  CHECK(browser.complaints() == std::vector<std::string>{});
  CHECK(browser.requests().size() == 1);
  CHECK(browser.evaluate("document.querySelectorAll('.stage canvas[tabindex]').length") == 3);
  CHECK(browser.evaluate("document.querySelectorAll('#panel-0 input[type=range]').length") == 0);
  CHECK(browser.evaluate("document.querySelectorAll('#panel-1 input[type=range]').length") == 1);
  CHECK(says(text_of(browser, "#panel-0 .legend"), "Fill time if the gate were here, min:s"));
  CHECK(coloured(picture(browser, 0)) > 1000);
  const Point middle = middle_of(browser, "#panel-0 .stage canvas");
  browser.click(middle.x, middle.y);
  const std::string told = text_of(browser, "#panel-0 .picked");
  CAPTURE(told);
  CHECK(number_after(told, "Fill time if the gate were here") > 0);
  CHECK(faults_for_people(browser) == "");
}

TEST_CASE("vents in a browser: the vents and the places tried on the part") {
  OpenPage page({"vents", strip, "--reach", "100 mm"}, "vents.html");
  Browser& browser = page.browser;
  CHECK(browser.complaints() == std::vector<std::string>{});
  CHECK(browser.requests().size() == 1);
  CHECK(says(text_of(browser, ".headline"), "The part fills in 9:0"));
  CHECK(says(text_of(browser, "main"), "May move"));
  CHECK(says(text_of(browser, "#panel-0 .signs"), "shuts in too much air"));
  CHECK(faults_for_people(browser) == "");
}

// Half the strip's far end has no vent: that run comes to a stand, at a time of its own.
TEST_CASE("compare in a browser: a run that comes to a stand does not stretch the scale of time") {
  OpenPage page({"compare", strip, "--try", "shut: vent.far end = none; cavity.sealed_air = true"},
                "compare.html");
  Browser& browser = page.browser;
  CHECK(says(text_of(browser, ".told"), "9:04 min; runs that go on longer are shown at their end"));
  CHECK(says(text_of(browser, ".legend"), "later than the scale: after 9:04 min"));
  // What came later has one plain colour, that of the legend, and no contour lines.
  CHECK(coloured(picture(browser, 0)) > 1000);
}

TEST_CASE("gates in a browser: what vents were found for a layout, and where they stand") {
  OpenPage page(
      {"gates", strip, "--radius", "8 mm", "--spacing", "200 mm", "--best", "1", "--vents"},
      "gates.html");
  Browser& browser = page.browser;
  const std::string tables = text_of(browser, "main");
  CHECK(says(tables, "Vents found"));
  CHECK(says(tables, "V1 at x "));
  CHECK(says(text_of(browser, "#panel-1 figure:nth-of-type(2) figcaption"), " found"));
  CHECK(faults_for_people(browser) == "");
}

TEST_CASE("in a browser numbers are told as on the terminal") {
  OpenPage page({"fill", strip, "--frames", "0"}, "report.html");
  Browser& browser = page.browser;
  const auto told = [&](const std::string& kind, const std::string& value) {
    return browser.evaluate("tidemark.say('" + kind + "', " + value + ")").get<std::string>();
  };
  CHECK(told("time", "4.2") == "4.2 s");
  CHECK(told("time", "59.4") == "59 s");
  CHECK(told("time", "59.96") == "1:00 min");
  CHECK(told("time", "754") == "12:34 min");
  CHECK(told("time", "-75") == "-1:15 min");
  CHECK(told("share", "0.9975") == "99.8 %");
  CHECK(told("share", "0.99999") == "99.99 %");
  CHECK(told("share", "1") == "100 %");
  CHECK(told("share", "1e-5") == "under 0.1 %");
  CHECK(told("length", "0.008") == "8.0 mm");
  CHECK(told("length", "-0.00001") == "0.0 mm");
  CHECK(told("length", "15.054") == "15.05 m");
  CHECK(told("pressure", "410") == "0.0041 bar");
  CHECK(told("pressure", "-5e4") == "-0.50 bar");
}

// The strip fills in 544 s with the case's own flow and cap (cases/strip-with-cap), which are the
// middle of both axes where these go from half to twice. No setting of this range is unsafe but for
// the time limit: at half the flow the strip takes 960 s at least.
TEST_CASE("window in a browser: the setting in words, and the map by keys and by pointer") {
  OpenPage page({"window", strip, "--points", "5", "--time-limit", "900 s"}, "window.html");
  Browser& browser = page.browser;
  CHECK(browser.complaints() == std::vector<std::string>{});
  CHECK(browser.requests().size() == 1);
  CHECK(text_of(browser, ".headline").starts_with("Set 0."));
  CHECK(says(text_of(browser, ".words"), "As the case is set, 0.120 L/min and a cap of 1.00 bar: "
                                         "it fills in 9:04 min"));
  CHECK(says(text_of(browser, ".map-names"), "time: short: not full at the time limit"));
  CHECK(says(text_of(browser, ".map-names"), "as the case is set: 0.120 L/min, cap 1.00 bar"));
  CHECK(browser.evaluate("document.querySelectorAll('.map-frame path.map-border').length") > 0);
  CHECK(browser.evaluate("document.querySelectorAll('.map-frame path.map-contour').length") > 0);
  // Words, not colours alone, and a pattern for all that is not safe.
  CHECK(browser.evaluate("[...document.querySelectorAll('.map-word')].map(e => "
                         "e.textContent).sort().join()") == "fills,time");
  CHECK(browser.evaluate("document.querySelector('.zone-lines-time').getAttribute('d')") != "");

  browser.evaluate("document.querySelector('.map-frame').focus()");
  for (int k = 0; k < 5; ++k) { // to the low end of both axes
    browser.press("ArrowLeft");
    browser.press("ArrowDown");
  }
  CHECK(text_of(browser, ".map-told").starts_with("0.0600 L/min, cap 0.50 bar: short: time limit"));
  for (int k = 0; k < 2; ++k) {
    browser.press("ArrowRight");
    browser.press("ArrowUp");
  }
  CHECK(text_of(browser, ".map-told").starts_with("0.120 L/min, cap 1.00 bar: fills in 9:04 min"));
  const Point middle = middle_of(browser, ".map-frame");
  browser.press("PageUp");
  CHECK(says(text_of(browser, ".map-told"), "0.120 L/min, cap 2.00 bar"));
  browser.click(middle.x, middle.y);
  CHECK(says(text_of(browser, ".map-told"), "0.120 L/min, cap 1.00 bar: fills in 9:04 min"));

  // The same as a table: at 1 bar, half to twice the flow.
  CHECK(browser
            .evaluate("[...document.querySelectorAll('tbody tr')].filter(r => "
                      "r.firstChild.textContent === '1.00 bar')[0].textContent")
            .get<std::string>()
            .starts_with("1.00 bartime"));
  CHECK(faults_for_people(browser) == "");
  browser.resize(360, 740);
  CHECK(browser.evaluate("document.documentElement.scrollWidth") == 360);
  CHECK(browser.evaluate("document.querySelector('.map-frame svg').getBoundingClientRect().width") >
        300);
  const Json print = browser.send("Page.printToPDF", {{"printBackground", true}});
  CHECK(print["data"].get<std::string>().starts_with("JVBERi0"));
}

// Without a word on [scatter] the permeability of the strip is drawn by the default law; it is the
// only input, and the strip fills whatever it is.
TEST_CASE("scatter in a browser: probability in words, spread, what matters, the part") {
  OpenPage page({"scatter", strip, "--samples", "12"}, "scatter.html");
  Browser& browser = page.browser;
  CHECK(browser.complaints() == std::vector<std::string>{});
  CHECK(browser.requests().size() == 1);
  // None of 12: by Clopper & Pearson up to 1 - 0.025^(1/12) = 26 %.
  CHECK(text_of(browser, ".headline") == "Probability of a short fill: 0 % (0 % to 26 % with 95 % "
                                         "confidence), 0 of 12 samples.");
  CHECK(says(text_of(browser, "#chart-0 h3"), "Fill time"));
  // All samples stand in the bars: their heights, by the ticks of the axis, sum up to 12.
  CHECK(browser.evaluate(
            "(() => { const svg = document.querySelector('#chart-0 svg'); const [none, next] = "
            "[...svg.querySelectorAll('text.tick')].filter(t => t.getAttribute('text-anchor') === "
            "'end' && t.getAttribute('x') < 60); const one = (none.getAttribute('y') - "
            "next.getAttribute('y')) / next.textContent; return "
            "Math.round([...svg.querySelectorAll('.spread-bar')].reduce((sum, bar) => sum + "
            "bar.getAttribute('height') / one, 0)); })()") == 12);
  CHECK(browser.evaluate("document.querySelectorAll('#chart-0 .spread-dot').length") == 5);
  CHECK(browser.evaluate("document.querySelectorAll('#chart-0 .spread-quantile').length") == 5);
  // A line of the drawing, a line of the words below it.
  const std::string words = text_of(browser, "#chart-0 .plot-values");
  for (const char* share :
       {"5 % below ", "25 % below ", "50 % below ", "75 % below ", "95 % below "}) {
    CAPTURE(share);
    CHECK(says(words, share));
  }
  CHECK(browser.evaluate("document.querySelectorAll('#chart-0 .spread-quantile-key').length") == 5);
  CHECK(says(words, "the case as it is: 9:04 min"));
  // The more permeable, the sooner full.
  CHECK(says(text_of(browser, ".weights"), "permeability of strip-1.00"));
  CHECK(browser.evaluate(
            "document.querySelector('.weights').querySelectorAll('.bar-down').length") == 1);
  CHECK(says(text_of(browser, "main"), "May et al. 2019"));
  CHECK(says(text_of(browser, "main"), "No place stayed dry in any sample."));
  CHECK(says(text_of(browser, "#panel-0 .legend"), "among the last 5 % to fill, %"));
  CHECK(coloured(picture(browser)) > 1000);
  CHECK(faults_for_people(browser) == "");
  browser.resize(360, 740);
  CHECK(browser.evaluate("document.documentElement.scrollWidth") == 360);
  const Json print = browser.send("Page.printToPDF", {{"printBackground", true}});
  CHECK(print["data"].get<std::string>().starts_with("JVBERi0"));
}
