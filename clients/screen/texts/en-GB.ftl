# The words on the pages, British. Both files hold the same keys; a test says so.

## Where a bay stands
held-up = HELD UP
late = LATE
likely-late = LIKELY LATE
at-risk = AT RISK
under-way = under way
unattended = NOBODY ON IT
free = free

## How many bays stand so
count-held-up = { $n } held up
count-late = { $n } late or likely late
count-at-risk = { $n } at risk
count-under-way = { $n } under way
count-unattended = nobody on { $n }
no-vehicle-in-a-bay = no vehicle in a bay

## Promises
promise-holds = holds
promise-at-risk = AT RISK
promise-late = LATE
promise-likely-late = LIKELY LATE
promise-none = no promise
promise-unknown = promise not known
promise-no-place = NO PLACE IN THE PLAN
promise-no-stages = no stages, nothing can be said
likely = likely { $when }
if-badly = if it goes badly { $when }

## A bay's part
job = job { $job }
the-answer = What was answered
on-the-clock-now = You are on the clock here.
off-the-clock-now = You are off the clock.
hold-up-over = That hold-up is over.
taken-back = Taken back.
safe-since = Safe again since { $when }: { $what }
forgot-to-go = Forgot to clock off? The shop closed at:
soaks-no-more = It soaks no longer
quoted = “{ $what }”
vehicle-without-name = vehicle of job { $job }
needed-at-step = { $what } for step { $step }
sees-to-it = { $who } sees to it
until = until { $when }
stages-done = { $done } of { $total } stages done
stage-of = stage { $stage } of { $total }
step-of = step { $step } of { $total }
nobodys-time-runs = Nobody is on the clock here: what is done now is in nobody's time.
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
bring-next = Parts room: bring
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
cause-seized-or-damaged = seized or damaged
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
clock-on = Clock on here
clock-off = Clock off
undo = Undo
step-ticked = Step { $step } is done.
steps-ticked = Steps { $from } to { $to } are done.
ticked-by-mistake = ticked by mistake
step-done = { $who }, { $when }
step-left-out = left out: { $reason }
stop-and-check = STOP AND CHECK: { $what }
shared-tool = shared tool { $tool }
goes-in = GOES IN, as reckoned for this job, whatever amounts stand here: { $what }
not-here-yet = { $what } (not here yet)
nothing-left = Nothing is left to do here.
caution-first = The manufacturer's data, local rules and licensed practice come first.

## The strip book at a bay
comes-next = comes next
planned = planned { $what }
off-as-listed = { $n ->
    [one] Off as listed
   *[other] { $n } lines off as listed
}
steps-as-listed = Steps { $from } to { $to }: as listed
and-finish = , and the stage is finished
done-up-to = Done up to step { $step }; the rest was not done.
somebody-else = Somebody else looks
measure = Measure
measure-again = Measure again
met-on-the-way = Met on the way
goes-back = Goes back here
is-back = Back
is-out = Out
all-back = { $n ->
    [one] The line that is left: back as listed
   *[other] All { $n } lines: back as listed
}
is-tight = Tight as listed: { $what }
after = after { $what }
judged-likely = likely: { $what }
tighten-to = tighten: { $what }
new-pieces = { $n } new: { $item }
new-pieces-of-none = { $n } new, none in the stock list
tags = tags { $tags }
still-attached = STILL ATTACHED: { $what }
has-soaked = has soaked, try it
soaks-until = soaks until { $when }
tried = { $n ->
    [one] tried once
   *[other] tried { $n } times
}
standing-left = on
standing-off = off
standing-own-hole = off, loose in its own hole
standing-aside = moved aside
standing-in = STILL IN
standing-partly = partly back
standing-settled = settled
n-found = { $found } FOUND, { $listed } listed
n-left-out = { $n } left out
n-missing = { $n } missing before
n-damaged = { $n } damaged
n-new = { $n } new
earlier-repair = earlier repair
earlier-repair-found = An earlier repair was found on it
comes-off-like-this = It came off like this
goes-in-like-this = It went in like this
ask-missing = Missing before we began
ask-damaged = Damaged or broken by us
ask-studs = Studs that came out with their nuts
ask-refitted = Old ones back
ask-renewed = New ones in
ask-left-out = Places left empty
ask-scrapped = Old ones thrown away
ask-came-out = Came out
kept-where = Kept where
kept-where-else = Kept where (nothing chosen: as listed)
another-count = Another count than the one listed
how-many-there = How many were there, instead of { $listed }?
counted-here = counted at the bay: { $found } were there, { $listed } are listed
in-front-too = In front of it, and of which nothing was said: { $what }
off-like-this = Off like this
off-like-this-with-front = Off like this; what is in front of it, as listed
in-like-this = In like this
goes-back-like-this = It goes back like this
comes-out-like-this = It comes out like this
back-like-this = Back like this
out-like-this = Out like this
always-renewed = It is always renewed.
how-tight = How tight
tight-not-said = not said yet
tightness-finger = finger-tight
tightness-final = tight as listed
why-left-out = Why places stay empty
reason-not-needed = not needed any more
reason-lost = lost, lead told
reason-to-follow = to follow, part is ordered
will-not-move = It will not move
rung = Try { $rung }:
rung-is-for = The next try is for { $who }.
last-safe-try = The last safe try: from here on it may break. First think how the rest gets out, and have a new one at hand.
let-it-soak = Let it soak { $minutes } min
how-many-tried = How many were tried
pieces = { $n }
plan-if-it-breaks = Should it break, the rest comes out by
plan-split = splitting the nut
plan-extractor = an extractor
plan-drill = drilling it out
plan-machine-shop = the machine shop
holds-stage-up = It holds the stage up
what-came-of-it = What came of it?
take-back-last = Take back what was said last
said-by-mistake = said by mistake
tight-stays = This can not be undone here: it was not said before how tight it was. Say on its page how tight it is.
fluid-stays = This can not be undone by itself: more was said of { $what } before, and only all of it can be taken back.
said-of = Said of { $what }.
you-said = You said: { $what }.
some-ticked = Steps { $steps } are done.
not-as-touched = It is taken back already, or something was done since: then take back what was done last, step by step.
danger-told = The danger is told. Keep away until a lead has looked at it.
which-half-done = Touch what is half done, or say it in words; else touch that nothing is.
is-held-up = It is held up now; whoever is on the clock here stays on it.
stage-finished = { $stage }: finished.

## Not listed
not-listed = Not listed …
something-in-the-way = Something that nobody listed came off
what-is-it = What is it?
how-many = How many
behind-what = Behind what (nothing chosen: behind all that came off here so far)
behind-nothing = behind nothing
say-more = Say more
called = What it is called
met-here = { $kind }, met on the way
a-step-more = A step that nobody listed
step-clean = Clean it
step-repair-thread = Repair the thread
step-free-up = Free it up
step-replace = Renew it
step-look-closer = Look closer
step-make-room = Make room
something-else = Something else
add-step = Add the step

## What the vehicle is in
needs-state = First the vehicle has to be:
say-what-you-saw = Say only what you saw yourself.
it-is-so = It is so: { $what }

## Fluids
came-out-as-listed = { $what }: { $amount } came out
went-in-as-came-out = { $what }: { $amount } went in
came-out-other = { $what }: how much came out, in mL or L?
fill-all = { $what }: { $out } came out of { $holds }, so { $out } goes in again; nothing is left in
fill-left = { $what }: { $out } came out of { $holds }, and { $left } is still in
fill-out = { $what }: { $out } came out
fill-some = . { $in } went in again already
went-in-other = { $what }: how much went in, in mL or L?
that-is-it = That is it

## What goes in
fill-title = What goes in: { $what }
fill-ask = What is poured in
fill-which = From stock
fill-item = { $item } ({ $free } free)
fill-others = Another item …
fill-unsaid = Nothing says which fluid these are
fill-no-item = No item of the stock is counted in litres.
fill-target = Of coolant only: how strong (50 %), or down to what temperature (-30 °C)
fill-poured = Strength of what you pour in; left empty: as the item says, or concentrate
fill-left-strength = Strength of what is still in, by a tester (40 %)
fill-capacity = What the whole system holds (7 L); left empty: what the drain should have given
fill-still-in = How much is still in it (2 L); left empty: what did not come out at the drain
fill-units = % L mL °C
fill-work-out = Work out the fill
fill-answer = Pour in
fill-reserve = Set this aside from stock
fill-how = How it was worked out
say-the-unit = '{ $typed }' of what? It is kept in { $unit }: write the unit too, such as '{ $typed } { $unit }'
fill-nothing = Nothing is to be poured in, so nothing is set aside.
fill-kept = { $amount } of { $item } are set aside for { $stage }, step { $step }
fill-kept-from = { $amount } of { $item } are set aside for { $stage }, step { $step }: { $bins }
fill-short = { $amount } of { $item } are needed for { $stage }, step { $step }, and { $short } are SHORT: tell the parts room

## Second looks
second-look = Second look
who-looked = Who looked at it?
look-before-you-sign = Look at it first, with your own eyes; then sign for it here. Nobody is signed out by that.
nobody-may-look = Nobody else who signs in by a PIN here may look at this.
nobody-may-look-with = Nobody else who signs in here has the skills for this look: { $skills }. The lead says who has.
looked-and-good = I looked, it is good
looked-at = { $who } looked at it.

## Readings
instrument = Measured with
take-reading = That is the reading
gauge-shows-it = The gauge shows just this
was = was { $what }
go-on = Go on
verdict-within = WITHIN ITS LIMITS
verdict-out = OUT OF ITS LIMITS
verdict-accepted = out, accepted by the lead
verdict-free = no limits

## A lead's word
overrule = A lead's word
overrule-link = A lead overrules it …
what-was-refused = What was refused
overrule-why = Why a lead lets it be done all the same
overrule-looked = I looked at it, it is safe to go on
overrule-order = The order does not matter here
overrule-known = It is known, and will be made good
overrule-beside = I stand beside it
overrule-now = Overrule it in my name
overrule-no-lead = { $who } does not lead, and only a lead overrules.
overruled-by = { $who } overruled it.
which-lead = Which lead?
by-badge = By badge
scan-badge = Scan the lead's badge

## Late, off and elsewhere
started-earlier = Started earlier …
clocked-on-earlier = On since earlier …
clocked-off-earlier = Went off earlier …
anything-half-done = Is anything half done? The next one is told.
nothing-half-done = Nothing is half done
left-half-done = LEFT HALF DONE by { $who }: { $what }
lend-a-hand = Lend a hand elsewhere …
lends-a-hand = You are on at { $bay }:
go-there = To that bay

## Ready lists
ready-list = What it needs in hand
ready-list-lacks = What it needs in hand: SOMETHING IS MISSING
whole-stage = the stage as a whole
step-n = step { $step }
missing = MISSING
tool-is-here = is here
tool-is-free = fetch it
hands = { $n ->
    [one] one person
   *[other] { $n } persons
}

## Desks
for-the-lead = This desk is for the lead. Sign in as the lead to see it.
for-the-parts-room = This desk is for the parts room and the lead. Sign in as one of them to see it.
for-hands = These times are for whoever works on vehicles, and for the lead.
job-changed = This job has changed since the page was made.
look-again = Look again
leads-desk = The lead's desk
count-waits = { $n ->
    [one] 1 waits for your word
   *[other] { $n } wait for your word
}
count-hold-ups = { $n ->
    [one] 1 hold-up
   *[other] { $n } hold-ups
}
count-in-bays = { $n } in the bays
count-outside = { $n } outside
waits-for-a-word = Waits for a word
this-way = Do it this way
the-books-way = Leave it at the book's way
decide = Decide …
why = Why
decision-accept = It stays as it is
decision-again = Measure again
decision-repair = Repair it
reason-within-wear = serviceable for what is left of its life
reason-gauge = the gauge or the method is in doubt
reason-part-renewed = the part is renewed
reason-customer-told = the customer was told and agrees
what-holds-up = What holds up
who-sees-to-it = Who sees to it …
nobody-sees-to-it = nobody yet
no-open-job = No job is open.
urgency = How urgent
urgency-1 = Before everything else
urgency-2 = Urgent
urgency-3 = As usual
urgency-4 = Can wait
urgency-5 = When there is time
sooner = More urgent
later = Less urgent
give-a-bay = Give it a bay …
another-bay = Another bay …
roll-out = Roll it out
promise = Promise …
promise-withdrawn = No promise any more
told = Told …
told-customer = the customer
told-whom = Who was told
told-whom-else = Who was told (empty: { $who })
told-what = What was said; a tile below says the usual
told-with-promise = Promised with it
told-promised = promised { $when }
told-this = Only what is typed
not-told = Not told so
tell-longer = It takes longer than was said
tell-found = Something was found; what it costs was told
tell-ready = It is ready
tell-not-reached = Nobody was reached
open-a-job = Open a job
does-not-suit = { $kind }; its first stage wants: { $wanted }
bay-kind-unspecified = not said what
bay-kind-two-post-lift = two-post lift
bay-kind-four-post-lift = four-post lift
bay-kind-floor = floor
bay-kind-pit = pit
job-is-open = Job { $job } is open.
no-template = No template is published yet. Publish one first.
vehicle-called = What the vehicle is called
plate = Plate
weight-kg = Weight in kg
options = Options

## The parts desk
parts-desk = The parts desk
item-code = Item: scan its code, or type its code or words of its name
which-item = Which item
look-up = Look it up
no-such-item = There is no item { $item }. Look at the code again; a new item is listed first.
free-amount = free: { $what }
reserved-amount = set aside: { $what }
at-jobs = at jobs: { $what }
expired-amount = expired: { $what }
a-delivery = A delivery
all-that-is-short = Came as wanted: { $what }
another-amount = Another amount
good-until = Good until
into = into
bin = Bin
another-bin = Another bin …
comes-in = Book it in
came-in = Booked in: { $what }
came-wrong = Something else came …
came-wrong-means = It goes back with the driver: nothing comes in. Jobs that are held up by it show that you see to it.
came-wrong-ordered = Ordered again from { $name }: here { $when }
came-wrong-not-ordered = Nobody knows yet when the right ones come
came-wrong-said = { $item }: nothing came in.
came-wrong-nobodys = No job is held up by it yet, so there is none that could show it: tell the lead.
more-are-called-so = More than these are called so: add a word.
now-brought = { $item }: brought.
now-back = Back in stock: { $what }
still-short = Still short after that: { $what }. Tell the supplier while the driver is here.
no-bin-yet = It lies in no bin yet; say in which bin it comes.
a-count = A count
count-round = Counted on the round
count-before-wrong = Counted wrongly before
count-not-booked = Used and not booked
is-counted = The count is booked.
needed-now = needed now
is-brought = Brought
is-short = Short, and whom it hurts
order-from = order from { $name }
order-today = order from { $name } by { $by }, in { $left }; here { $here }
order-passed = { $name }: today's cut-off has passed; next by { $by }, here { $here }
order-later = { $name }: next by { $by }, here { $here }
is-with = with { $who }
at-the-bays = At the bays
comes-back = Comes back …

## The time page
hand-over = Hand over …
hand-over-now = Hand it over
handed-over = Job { $job } is handed over.
nothing-against = Nothing stands against handing it over.
stands-against = What stands against it
closed-already = It is closed already.
nobody-overrules = Nobody overrules this: it has to be ended first.
not-overruled = not overruled
hand-over-known = the customer knows and wants it so
hand-over-looked = looked at it, and it is good
hand-over-later = done later, and the customer was told
all-done = ALL DONE, HAND OVER
looked-myself = I looked at it: { $who }
set-aside-here = Set aside what is there
clock-off-and-out = Clock off and sign out
half-done-and-off = These are half done: clock off
half-done-and-out = These are half done: clock off and sign out
still-on = You are on the clock: { $stage }
sign-out-still-on = Sign out, and stay on the clock
touch-waits = The server has not answered yet. What you touched was sent and counts once: wait, or touch it again in a moment.
another-rung = Another piece needs another rung …
time-page = Time
where-the-hours-went = Where the hours of { $what } went
planned-likely = the template says { $length }
template-range = template { $low }/{ $likely }/{ $high } min
no-minutes = the template gives no minutes
all-stages = All stages together
no-hours-yet = No stage of it was ready yet.
jobs-handed-over = Jobs handed over, four weeks
spread-over-jobs = How long stages take, by template
how-long-stages-took = How long the stages of { $template } took
spread-band = the template's minutes
spread-likely = its most likely
spread-ring = a job
spread-middle = half took this or less
jobs-count = { $n ->
    [one] { $n } job
   *[other] { $n } jobs
}
half-took = half took { $length } or less
no-stage-finished = No job of it has finished a stage yet.
hours-lost = Hours held up, { $weeks } weeks
nothing-lost = Nothing held a stage up in these weeks.
in-figures = In figures
label-worked = worked
label-blocked = held up
label-wait = planned wait
label-idle = nobody on it
label-outside = outside the shop's hours
own-time = Your own time, seven days
everybodys-time = Everybody's time, seven days
no-time-yet = No time was clocked in these days.
own-entries = Your entries, latest first
entry-is-wrong = This is wrong …
it-began = It began
it-ended = It ended
forgot-to-clock-off = Forgot to clock off
forgot-to-clock-on = Forgot to clock on
wrong-minute = The wrong time was entered
not-worked-then = Nobody worked then
entry-corrected = It is corrected; what was entered first stays in the journal.
entry-asked = The job is closed, so your lead was asked; the entry stays as it is until then.
correction-waits = Your lead was asked to correct it.
correction-taken = Your time is corrected as you asked ({ $what }); { $who }: { $answer }
correction-declined = The correction of your time that you asked for is DECLINED ({ $what }); { $who }: { $answer }
seen = Seen
correction-of = { $who }'s time
as-entered = As entered:
asked-for = Asked for:
entry-gone = gone since
entry-to-go = it should go altogether
goes-on-still = still going on
correct-as-asked = Correct it as asked
leave-as-entered = Leave it as entered
corrected-as-asked = as asked for
left-as-entered = left as entered
say-why = Add a word (nobody has to)
decline-as-seen = The entry fits what I saw
decline-break = That was a break
decline-ask-me = Come and see me about it
now-corrected = The time is corrected as asked. Whoever asked is told.
now-left = The time stays as it was entered. Whoever asked is told at the bay and on the page of times.
now-in-bay = Job { $job } is in { $bay } now.
now-outside = Job { $job } is outside now.
now-urgency = Job { $job }: { $what }.
now-promised = Job { $job } is promised for { $when }.
now-no-promise = Job { $job }: nothing is promised any more.
now-goes-on = That hold-up of job { $job } is over.
now-owned = Job { $job }: { $who } sees to it.
now-nobodys = Job { $job }: nobody sees to it now.
now-decided = Job { $job }: your decision is kept.
now-kept = Noted with job { $job }: what was said to whom.
now-not-told = Struck out at job { $job }.

## Kinds of positions
position-kind-unspecified = not said
position-kind-fastener = bolt, nut, stud
position-kind-connector = plug
position-kind-hose = hose or pipe
position-kind-clip = clip or clamp
position-kind-cable = cable
position-kind-earth = earth lead
position-kind-bracket = bracket
position-kind-part = part
position-kind-aid = cover or support, put in
position-kind-unknown = not known

## Ways of keeping what came off
reach-unspecified = not said
reach-top = from above
reach-under = from below
reach-wheel-arch = through the wheel arch
reach-inside = from inside
keep-unspecified = not said
keep-own-hole = own hole
keep-tray = tray
keep-bag = bag
keep-bench = bench
keep-outside = outside
keep-machine-shop = machine shop

## What came of an attempt
attempt-outcome-unspecified = not said
attempt-outcome-moved = It moved
attempt-outcome-not-moved = It did not move
attempt-outcome-rounded = Head is rounded
attempt-outcome-broken = It broke
attempt-outcome-thread-gone = Thread gave way

## Kinds of readings
reading-kind-unspecified = reading
reading-kind-compression = compression
reading-kind-leak-down = leak-down
reading-kind-flatness = flatness
reading-kind-torque = torque
reading-kind-angle = angle
reading-kind-run-out = run-out
reading-kind-pressure-held = pressure, held
reading-kind-level = level
reading-kind-other = reading

## States of a vehicle
vehicle-state-unspecified = not said
vehicle-state-battery-connected = battery connected
vehicle-state-battery-isolated = battery off, its post covered
vehicle-state-fuel-pressure-live = fuel line under pressure
vehicle-state-fuel-pressure-relieved = fuel pressure let off
vehicle-state-coolant-full = coolant full
vehicle-state-coolant-drained = coolant drained
vehicle-state-oil-full = oil full
vehicle-state-oil-drained = oil drained
vehicle-state-support-wheels = on its wheels
vehicle-state-support-stands = on axle stands
vehicle-state-support-lift = on the lift
vehicle-state-engine-mounted = engine in its mounts
vehicle-state-engine-held-above = engine held from above
vehicle-state-engine-held-below = engine held from below
vehicle-state-rolling-free = can be rolled
vehicle-state-rolling-blocked = must not roll
vehicle-state-bonnet-latched = bonnet latched
vehicle-state-bonnet-open = bonnet open
vehicle-state-ports-closed = nothing open
vehicle-state-ports-open = something open and uncovered
vehicle-state-ports-covered = everything open is covered
vehicle-state-crank-free = crankshaft may be turned
vehicle-state-crank-held = nobody turns the crankshaft
vehicle-state-brakes-ready = brakes work
vehicle-state-brakes-open = brakes open
vehicle-state-temperature-hot = may be hot
vehicle-state-temperature-cold = cold
vehicle-state-airbags-live = airbags live
vehicle-state-airbags-safe = airbags made safe
vehicle-state-high-voltage-unchecked = high voltage not looked for
vehicle-state-high-voltage-none = no high voltage
vehicle-state-high-voltage-isolated = high voltage isolated by qualified staff
vehicle-state-high-voltage-live = high voltage live

## Refusals
refused-from-elsewhere = This was not sent from a page of this screen, so nothing was done. Open the page here and try again.
refused-host = This screen is not served under this name; use localhost on its own machine, or start it with --host and this name.
refused-form = What was sent is too long or took too long, so nothing was done. Go back and try again.
session-over = You are not signed in here any more: the job server ended the session, and what was touched since then was not done. Sign in to go on.
server-not-heard = The job server can not be reached just now, so nothing was done. Try again in a minute; if it lasts, tell whoever looks after the computers.
server-not-heard-unknown = The job server did not answer in time, and it is not known yet whether this counted. Look at the page again before you repeat it.
refused-old-form = This page is too old, so nothing was done. Go back, load it again and repeat what you did.
too-many-look = Too many browsers look at this screen. Close some, or try again in a minute.
nothing-here = There is nothing at this address.

## What can't be read
a-number = a number
figure-n = figure { $n }
not-a-number = "{ $typed }" under "{ $field }" is not a number that can be taken; write it in digits.
not-a-time = "{ $typed }" is not a time that can be read; choose one of the times on the page.
two-meanings = { $typed } may mean two things; write { $whole } or { $part }.

## A danger, and its end
not-safe-here = Not safe: what do you see?
not-safe = NOT SAFE: hold the stage up
what-was-found = What was found, and why it is safe now
safe-again = Safe again
safe-looked = Looked at: no danger found
safe-mended = Mended and tried
safe-guarded = Supported, isolated or closed off
lead-clears = A lead looks at it, and says when it is safe again.
reading-decided = It goes on when the lead has decided about the reading.
