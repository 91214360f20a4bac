// posture_choice.cc
