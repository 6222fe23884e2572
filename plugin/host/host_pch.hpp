// What nearly every command includes, compiled once.
#include <fmt/format.h>

#include "airlatch/v1/event.pb.h"
#include "airlatch/v1/report.pb.h"
#include "airlatch/v1/setup.pb.h"
