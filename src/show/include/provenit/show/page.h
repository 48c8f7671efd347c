#pragma once
// A full-screen page in a browser on this machine, for SDR: codes of 8 bits, full range, one pixel of the picture for
// one of the screen. The page reads back what it has drawn, and the server holds that against what it sent; what the
// browser and the system do after that (the screen's profile, night light, the link's range) it cannot see.
#include <memory>
#include <string>
#include <vector>

#include "provenit/show/screen.h"

namespace provenit::show {

struct PageOptions {
  int port = 0;                       ///< 0: a free one
  std::vector<std::string> cautions;  ///< stand on the page before anything is shown
  Seconds start_time{300};            ///< for somebody to open the page and start it
  Seconds answer_time{10};            ///< for the page to put a frame up
  bool full_screen = true;            ///< a page that is not full screen is refused
  bool flashing_confirmed = false;    ///< frames may follow each other without a pause
};

/// Serves the page on 127.0.0.1 alone, to requests that name it as host and know its address. One page is shown at a
/// time: one opened later takes over.
class Page final : public Screen {
 public:
  /// Errors: io if the port is taken; out_of_range for a port outside 0 to 65535.
  [[nodiscard]] static Result<std::unique_ptr<Page>> open(PageOptions options);
  ~Page() override;  ///< the page goes black and says so

  /// What to open in the browser on the display: "http://127.0.0.1:41234/9f.../". It holds a secret of this session.
  [[nodiscard]] const std::string& address() const;
  /// The running time-outs are cut short, as if the viewer had left, once this gives true; asked about every 0.1 s.
  void set_stop(std::function<bool()> stop_requested);

  [[nodiscard]] Result<void> accepts(const signal::Encoding& encoding) const override;
  /// Errors: timeout if no page was opened and started, or did not answer; io if it was closed, or if the codes it read
  /// back are others; conflict if it is not full screen or its pixels are not the screen's; cancelled
  [[nodiscard]] Result<void> show(const Frame& frame) override;
  [[nodiscard]] std::optional<Wish> wish(Seconds wait) override;
  /// Pixels of the page that answered last; 0 x 0 before.
  [[nodiscard]] signal::RasterSize size() const;

 private:
  class Server;
  explicit Page(std::unique_ptr<Server> server);
  std::unique_ptr<Server> server_;
};

}  // namespace provenit::show
