#pragma once
// Surveys of the bench, read once and kept while they are looked at, so that a zoom over hours answers at once.
#include <list>
#include <map>
#include <memory>
#include <mutex>
#include <utility>

#include "provenit/programme/bench.h"
#include "provenit/programme/course.h"
#include "provenit/programme/scenes.h"
#include "provenit/report/records_json.h"

namespace provenit::server {

/// A survey but for what single frames are.
struct ShelvedTitle {
  programme::BenchSurvey survey;
  programme::Course course;
  report::Json document;  ///< schema Survey of openapi.json
};

/// What its scenes ask of a display of some peak.
struct ShelvedScenes {
  report::Json scenes;                          ///< schema Scenes
  std::map<std::string, report::Json> moments;  ///< by test: schema Moments
};

/// Calls may come from any thread.
class SurveyShelf {
 public:
  /// Errors: those of survey_in_bench and for_each_chunk.
  [[nodiscard]] Result<std::shared_ptr<const ShelvedTitle>> title(const store::Bench& bench, store::Id survey);
  [[nodiscard]] Result<std::shared_ptr<const ShelvedScenes>> scenes(const store::Bench& bench, store::Id survey,
                                                                    double peak_cdm2);

 private:
  template <class Key, class Value>
  using Shelf = std::list<std::pair<Key, std::shared_ptr<const Value>>>;  // newest first

  // Each held while one is read, so that two requests do not read the same; scenes of a long film take seconds.
  std::mutex titles_mutex_, scenes_mutex_;
  Shelf<store::Id, ShelvedTitle> titles_;
  Shelf<std::pair<store::Id, double>, ShelvedScenes> scenes_;
};

/// Moments kept for each test.
constexpr std::size_t kMostMoments = 50;

}  // namespace provenit::server
