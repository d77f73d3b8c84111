# The words on the pages, American. Both files hold the same keys; a test says so.

## Where a bay stands
held-up = HELD UP
late = LATE
at-risk = AT RISK
under-way = under way
unattended = NOBODY ON IT
free = free

## How many bays stand so
count-held-up = { $n } held up
count-late = { $n } late
count-at-risk = { $n } at risk
count-under-way = { $n } under way
count-unattended = nobody on { $n }
no-vehicle-in-a-bay = no vehicle in a bay

## Promises
promise-holds = holds
promise-at-risk = AT RISK
promise-late = LATE
promise-none = no promise
promise-unknown = promise not known
likely = likely { $when }

## A bay's part
job = job { $job }
vehicle-without-name = vehicle of job { $job }
needed-at-step = { $what } for step { $step }
sees-to-it = { $who } is on it
until = until { $when }
stages-done = { $done } of { $total } stages done
stage-of = stage { $stage } of { $total }
step-of = step { $step } of { $total }
nobody-on-it = nobody on it
stage-ready = { $stage } (may start)
stage-waits = { $stage } (waits until { $when })
stage-not-yet = { $stage } (not yet)
short-for = { $quantity } { $item } short for { $stage }, step { $step }
will-miss = WILL MISS
next = next

## Beside the bays
free-bays = FREE
no-bay-free = No bay is free
no-bays = This shop has no bays yet. The lead adds one: leadhand bay add
outside = Outside
nobody-outside = No vehicle waits outside.
bring-next = Parts room: deliver
nothing-to-bring = Everything set aside is where it is needed.
bring-not-known = What is to be brought is not known yet.
for-step = for { $stage }, step { $step }
and-more = and { $n } more

## Whether it is live
live = live
no-word-from-screen = NO WORD FOR { $s } S: the screen's program is not heard
no-word-from-server = NO WORD FOR { $s } S: the job server is not heard
waiting-for-server = waiting for the job server, { $s } s
as-of = as of { $when }
changed-meanwhile = SOMETHING CHANGED HERE: close what is open to see it

## Causes
cause-unspecified = not said
cause-part = part
cause-tool = tool
cause-person = person
cause-customer = customer
cause-sent-out = sent out
cause-seized-or-damaged = stuck or damaged
cause-safety = not safe
cause-bay = bay
cause-information = information

## Signal words, as in ISO 3864-2 and ANSI Z535.4
signal-word-unspecified = MIND
signal-word-danger = DANGER
signal-word-warning = WARNING
signal-word-caution = CAUTION
signal-word-notice = NOTICE

## Signing in
sign-in = Sign in
sign-out = Sign out
who-are-you = Who are you?
nobody-known = This shop has nobody to sign in yet.
pin = PIN
or-badge = Or scan your badge
back = Back

## A bay's page
shop-screen = Shop screen
to-shop-screen = To the shop screen
bay-is-free = No vehicle is in this bay.
no-such-bay = There is no bay { $bay }; look at the shop screen for its bays.
may-start = may start
start = Start
finish = Finish the stage
all-as-listed = { $n ->
    [one] The step that is left: done as listed
   *[other] All { $n } steps that are left: done as listed
}
hold-up = Held up …
goes-on = It goes on
clock-on = Clock in here
clock-off = Clock out
undo = Undo
step-ticked = Step { $step } is checked off.
ticked-by-mistake = checked off by mistake
step-done = { $who }, { $when }
step-left-out = left out: { $reason }
stop-and-check = STOP AND CHECK: { $what }
shared-tool = shared tool { $tool }
not-here-yet = { $what } (not here yet)
nothing-left = Nothing is left to do here.
caution-first = The manufacturer's data, local codes and licensed practice come first.

## Refusals
refused-from-elsewhere = This was not sent from a page of this screen, so nothing was done. Open the page here and try again.
refused-host = This screen is not served under this name; use localhost on its own machine, or start it with --host and this name.
refused-form = What was sent is too long or took too long, so nothing was done. Go back and try again.
session-over = You are not signed in here any more: the job server ended the session, and what was touched since then was not done. Sign in to go on.
refused-old-form = This page is too old, so nothing was done. Go back, load it again and repeat what you did.
too-many-look = Too many browsers look at this screen. Close some, or try again in a minute.
nothing-here = There is nothing at this address.
