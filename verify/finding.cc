#include "verify/finding.h"
