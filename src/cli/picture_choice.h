#pragma once
// Which test picture, and in which encoding: what `provenit picture` and `provenit show` are asked for.
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "provenit/base/error.h"
#include "provenit/signal/signal.h"

namespace CLI {
class App;
}

namespace provenit::cli {

struct PictureChoice {
  std::string key, transfer = "pq", container = "bt2020", range = "narrow";
  int bits = 10;
  double peak_cdm2 = 1000;
  std::vector<std::string> set;  ///< name=number
};

/// The options --transfer, --container, --bits, --range, --peak, --set.
void add_picture_choice(CLI::App& verb, PictureChoice& choice);
/// Errors: invalid_input naming the option. What the numbers may be is for signal::validate to say.
[[nodiscard]] Result<signal::Encoding> encoding_of(const PictureChoice& choice);
/// Errors: invalid_input for what is not name=number, or set twice.
[[nodiscard]] Result<nlohmann::json> parameters_of(const PictureChoice& choice);

}  // namespace provenit::cli
