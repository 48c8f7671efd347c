// A meter on the other end of a line, as a process of its own. It knows three dialects and can be told to fail. The
// fourth, echo, is plain and sends each line back before its reply.
//
//   line_meter_peer (tcp | pty LINK) (scpi | plain | spectral | echo) [BEHAVIOUR]...
//
// Prints "ready PORT" or "ready LINK" once it can be connected to, and ends when its standard input does. Each measure
// line takes the next BEHAVIOUR; when they are used up it is normal. Reading n (from 1) has the luminance 100 + n, so
// that a late reply can be told from the right one.
//   normal         replies at once
//   slow           sends the reply byte by byte, 2 ms apart
//   split          sends half of the reply, waits 50 ms, sends the rest
//   late:MS        replies after MS milliseconds; reads no other line before
//   overtaken      replies only when the next line has come, before it answers that
//   silent         never replies
//   garbage        replies with bytes that are no reply
//   overlong       replies with 100000 bytes without a line break
//   cut            sends half of the reply and closes the line
//   drop           closes the line at once
//   stay-away:MS   closes the line and everything that could be connected to, and comes back after MS milliseconds
//   error          refuses: by its error queue (scpi) or an error line
//   busy           an error line that is worth a retry (plain)
//   midway         an error line in the middle of the spectrum that is fetched next (spectral)
//   text:TEXT      replies with TEXT
//   noise          sends a line that nobody asked for after its reply
#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <pty.h>
#include <signal.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <deque>
#include <string>
#include <thread>
#include <utility>
#include <vector>

namespace {

void wait_ms(int ms) {
  std::this_thread::sleep_for(std::chrono::milliseconds(ms));
}

/// The line: a socket that is listened on, or a pseudo-terminal behind a symbolic link.
class Line {
 public:
  virtual ~Line() = default;
  /// Makes it possible to connect. False if the system refuses.
  virtual bool open() = 0;
  /// Nothing can be connected to any more.
  virtual void shut() = 0;
  /// The descriptor to talk through, or -1 if nobody is connected and `wait_on` must become readable first.
  virtual int talk() = 0;
  virtual int wait_on() = 0;
  virtual void connect() = 0;
  virtual void hang_up() = 0;
  virtual std::string place() = 0;
};

class TcpLine final : public Line {
 public:
  bool open() override {
    listening_ = ::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    const int on = 1;
    ::setsockopt(listening_, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on);
    sockaddr_in address{};
    address.sin_family = AF_INET;
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    address.sin_port = htons(port_);
    auto* any = reinterpret_cast<sockaddr*>(&address);
    socklen_t size = sizeof address;
    if (::bind(listening_, any, size) != 0 || ::listen(listening_, 1) != 0) return false;
    if (::getsockname(listening_, any, &size) != 0) return false;
    port_ = ntohs(address.sin_port);
    return true;
  }
  void shut() override {
    hang_up();
    ::close(listening_);
    listening_ = -1;
  }
  int talk() override { return connected_; }
  int wait_on() override { return listening_; }
  void connect() override {
    connected_ = ::accept(listening_, nullptr, nullptr);
    const int on = 1;
    ::setsockopt(connected_, IPPROTO_TCP, TCP_NODELAY, &on, sizeof on);
  }
  void hang_up() override {
    if (connected_ >= 0) ::close(connected_);
    connected_ = -1;
  }
  std::string place() override { return std::to_string(port_); }

 private:
  int listening_ = -1, connected_ = -1;
  std::uint16_t port_ = 0;
};

class PtyLine final : public Line {
 public:
  explicit PtyLine(std::string link) : link_(std::move(link)) {}
  bool open() override {
    int slave = -1;
    char name[128] = {};
    if (::openpty(&master_, &slave, name, nullptr, nullptr) != 0) return false;
    termios raw{};
    ::tcgetattr(slave, &raw);
    ::cfmakeraw(&raw);
    ::tcsetattr(slave, TCSANOW, &raw);
    slave_ = slave;  // kept open: without a slave the master reads errors until somebody connects
    ::unlink(link_.c_str());
    return ::symlink(name, link_.c_str()) == 0;
  }
  void shut() override {
    ::unlink(link_.c_str());
    ::close(slave_);
    ::close(master_);
    slave_ = master_ = -1;
  }
  int talk() override { return master_; }
  int wait_on() override { return master_; }
  void connect() override {}
  void hang_up() override {
    shut();
    open();
  }
  std::string place() override { return link_; }

 private:
  std::string link_;
  int master_ = -1, slave_ = -1;
};

struct Dialect {
  std::string name, send_ending;
  char line_end;
  bool echo = false;
};

class Meter {
 public:
  Meter(Line& line, Dialect dialect, std::deque<std::string> behaviours)
      : line_(line), dialect_(std::move(dialect)), behaviours_(std::move(behaviours)) {}

  void receive(const std::string& bytes) {
    pending_ += bytes;
    for (auto end = pending_.find(dialect_.line_end); end != std::string::npos;
         end = pending_.find(dialect_.line_end)) {
      const auto command = pending_.substr(0, end);
      pending_.erase(0, end + 1);
      handle(command);
    }
  }
  void forget() { pending_.clear(); }

 private:
  void handle(const std::string& command) {
    if (!owed_.empty()) reply(std::exchange(owed_, {}));
    if (dialect_.echo) reply(command);
    if (command == "*IDN?") return reply("EXAMPLE,COLOUR METER,1234,1.0");
    if (command == "I") return reply("ID COLOUR METER / 1234");
    if (command == "*OPC?") return reply("1");
    if (command == "U 1") return reply("OK");
    if (command == "*CLS") return errors_.clear();
    if (command == "SYST:ERR?") return reply_error();
    if (command == "READ?" || command == "M" || command == "INIT;*OPC?") return measure();
    if (command == "FETC:SPEC?" && std::exchange(midway_, false)) return reply("SPECTRUM 380 5 81\n1.0\nERROR 7: LAMP");
    if (command == "FETC:SPEC?") return reply(spectrum());
    errors_.emplace_back("-113,\"Undefined header\"");
  }

  void reply_error() {
    reply(errors_.empty() ? "0,\"No error\"" : errors_.front());
    if (!errors_.empty()) errors_.pop_front();
  }

  std::string reading() {
    const auto light = std::to_string(100 + ++count_);
    if (dialect_.name == "plain") return "L " + light + " u 0.19783 v 0.46834 T 500";
    if (dialect_.name == "spectral") return "1";
    return light + ",0.3127,0.3290";
  }

  /// Flat from 380 to 780 nm at 5 nm, 0.01 W/(sr m2 nm) times the reading's number.
  [[nodiscard]] std::string spectrum() const {
    std::string out = "SPECTRUM 380 5 81";
    for (int i = 0; i < 81; ++i) out += dialect_.send_ending + std::to_string(10 * count_) + ".0";
    return out + dialect_.send_ending + "END";
  }

  void measure() {
    std::string behaviour = "normal";
    if (!behaviours_.empty()) {
      behaviour = behaviours_.front();
      behaviours_.pop_front();
    }
    const auto colon = behaviour.find(':');
    const std::string word = behaviour.substr(0, colon);
    const std::string argument = colon == std::string::npos ? "" : behaviour.substr(colon + 1);
    const std::string text = reading();
    if (word == "late") wait_ms(std::atoi(argument.c_str()));
    if (word == "overtaken") owed_ = text;
    if (word == "normal" || word == "late" || word == "noise" || word == "midway") reply(text);
    midway_ = word == "midway";
    if (word == "noise") reply("WARNING LAMP");
    if (word == "slow") drip(text + dialect_.send_ending);
    if (word == "split" || word == "cut") send(text.substr(0, text.size() / 2));
    if (word == "split") wait_ms(50), reply(text.substr(text.size() / 2));
    if (word == "garbage") send(std::string("\x00\xff\x80\x1b[2J%n,,;{}\n\r\n\xc3\x28", 19) + dialect_.send_ending);
    if (word == "overlong") send(std::string(100000, '7'));
    if (word == "text") reply(argument);
    if (word == "error") refuse();
    if (word == "busy") reply("BUSY");
    if (word == "cut" || word == "drop") line_.hang_up();
    if (word == "stay-away") {
      line_.shut();
      wait_ms(std::atoi(argument.c_str()));
      line_.open();
    }
  }

  void refuse() {
    if (dialect_.name == "scpi") errors_.emplace_back("-230,\"Data corrupt or stale\"");
    if (dialect_.name == "plain") reply("E 12 TOO BRIGHT");
    if (dialect_.name == "spectral") reply("ERROR 12: TOO BRIGHT");
  }

  void reply(const std::string& text) { send(text + dialect_.send_ending); }
  void drip(const std::string& bytes) {
    for (const char c : bytes) send({c}), wait_ms(2);
  }
  void send(std::string bytes) {
    while (!bytes.empty() && line_.talk() >= 0) {
      const auto sent = ::write(line_.talk(), bytes.data(), bytes.size());
      if (sent <= 0) return;
      bytes.erase(0, static_cast<std::size_t>(sent));
    }
  }

  Line& line_;
  Dialect dialect_;
  std::deque<std::string> behaviours_;
  std::deque<std::string> errors_;
  std::string pending_, owed_;
  int count_ = 0;
  bool midway_ = false;
};

void serve(Line& line, Meter& meter) {
  for (;;) {
    pollfd watched[2] = {{STDIN_FILENO, POLLIN, 0}, {line.talk() >= 0 ? line.talk() : line.wait_on(), POLLIN, 0}};
    if (::poll(watched, 2, -1) < 0) return;
    char buffer[4096];
    if (watched[0].revents != 0 && ::read(STDIN_FILENO, buffer, sizeof buffer) <= 0) return;
    if (watched[1].revents == 0) continue;
    if (line.talk() < 0) {
      line.connect();
      meter.forget();
      continue;
    }
    const auto got = ::read(line.talk(), buffer, sizeof buffer);
    if (got > 0)
      meter.receive({buffer, static_cast<std::size_t>(got)});
    else
      line.hang_up();
  }
}

}  // namespace

int main(int argc, char** argv) {
  std::vector<std::string> arguments(argv + 1, argv + argc);
  ::signal(SIGPIPE, SIG_IGN);
  if (arguments.size() < 2) return 2;
  const bool pty = arguments[0] == "pty";
  const std::size_t rest = pty ? 3 : 2;
  if (arguments.size() < rest) return 2;
  TcpLine tcp;
  PtyLine terminal(pty ? arguments[1] : "");
  Line& line = pty ? static_cast<Line&>(terminal) : tcp;
  const std::string dialect = arguments[rest - 1];
  const bool echo = dialect == "echo", plain = echo || dialect == "plain";
  Meter meter(line, {plain ? "plain" : dialect, plain ? "\r\n" : "\n", plain ? '\r' : '\n', echo},
              {arguments.begin() + static_cast<std::ptrdiff_t>(rest), arguments.end()});
  if (!line.open()) return 1;
  std::printf("ready %s\n", line.place().c_str());
  std::fflush(stdout);
  serve(line, meter);
  if (pty) line.shut();
  return 0;
}
