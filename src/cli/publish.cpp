// provenit publish: a shelf as a static site.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <memory>

#include "provenit/base/text.h"
#include "provenit/publish/site.h"
#include "verbs.h"

namespace provenit::cli {
namespace {

struct PublishOptions {
  std::string shelf, out, about;
  bool no_png = false;
};

Result<publish::SiteSummary> write(const PublishOptions& o) {
  const auto opened = shelf::Shelf::open(o.shelf);
  if (!opened) return tl::unexpected(opened.error());
  publish::SiteOptions options{.now = machine_time(), .software = kSoftware, .png = !o.no_png};
  if (!o.about.empty()) {
    const auto text = read_file(o.about);
    if (!text) return tl::unexpected(text.error());
    auto about = publish::parse_about(*text, o.about);
    if (!about) return tl::unexpected(about.error());
    options.about = std::move(*about);
  }
  return publish::write_site(*opened, o.out, options);
}

int publish_shelf(const Output& output, const PublishOptions& o) {
  const auto site = write(o);
  if (!site) return output.fail(site.error());
  nlohmann::ordered_json document{
      {"site", o.out},          {"displays", site->displays},          {"pages", site->pages},
      {"charts", site->charts}, {"packages", nlohmann::json::array()}, {"corrected", nlohmann::json::array()}};
  auto text = fmt::format("{} displays, {} pages, {} charts.\n", site->displays, site->pages, site->charts);
  for (const auto& p : site->packages) {
    text += fmt::format("  {}: data/{}\n", p.display, p.file);
    document["packages"].push_back({{"display", p.display}, {"file", p.file}, {"sha256", p.hash}});
  }
  if (!site->corrected.empty()) text += "Corrected against what the site said before:\n";
  for (const auto& c : site->corrected) {
    text += fmt::format("  {}: {}\n", c.display, c.text);
    document["corrected"].push_back({{"display", c.display}, {"text", c.text}});
  }
  output.say(text + fmt::format("\nOpen {}/index.html, or copy the folder to any web server.\n", o.out), document);
  return kDone;
}

}  // namespace

void add_publish(Command& command) {
  const auto o = std::make_shared<PublishOptions>();
  auto* verb =
      add_verb(command, "publish", "write a shelf as a static site: pages, charts, data packages, corrections",
               "provenit publish shelf --out site\n"
               "provenit publish shelf --out site --about about.toml    # publisher, rights, DOIs: docs/publishing.md");
  verb->add_option("shelf", o->shelf, "folder of the shelf")->required();
  verb->add_option("--out", o->out, "folder of the site: a new one, or the site that is published anew")->required();
  verb->add_option("--about", o->about, "TOML file: title, publisher, creators, rights, address, DOIs");
  verb->add_flag("--no-png", o->no_png, "charts as SVG alone");
  verb->callback([&command, o] { command.action = [&command, o] { return publish_shelf(command.output, *o); }; });
}

}  // namespace provenit::cli
